"""High free chlorine by an amperometric cell, where one is fitted."""

from dataclasses import dataclass

from dosectl.core.evidence import Evidence
from dosectl.core.interlocks.answers import moment
from dosectl.core.interlocks.bounds import Bounds, outside
from dosectl.core.interlocks.guard import ITSELF, TEST, GuardKind, Memory, Need
from dosectl.core.site import Site
from dosectl.model.feeds import FeederId, Substance
from dosectl.model.ranges import setting
from dosectl.model.reasons import Code, ReasonKind
from dosectl.model.signals import SignalId, SignalKind
from dosectl.model.verdicts import Denial, Permit, Verdict
from dosectl.model.water_tests import Quantity

CODE = Code("high.chlorine")
PERMIT = Permit(CODE)
CHLORINE_MG_L_CEILING = 8.0
DEADBAND_MG_L = 0.5
CLEAR_S = 600.0

HIGH = ReasonKind(
    Code("high.chlorine_over"),
    "Free chlorine reads over {limit_mg_l} mg/L since {since}; chlorine is stopped. Do not swim; test by hand.",
)
LOST = ReasonKind(
    Code("high.chlorine_lost"),
    "Free chlorine read over {limit_mg_l} mg/L at {since} and the reading is now lost; chlorine stays stopped until a "
    "hand test is entered.",
)


@dataclass(frozen=True, slots=True)
class HighChlorineParams:
    chlorine_mg_l: float = setting(
        8.0, ge=2.0, le=CHLORINE_MG_L_CEILING, unit="mg/L", why="engineering judgement: below the 10 mg/L that no fault may pass"
    )


@dataclass(frozen=True, slots=True)
class HighChlorine:
    """Without stabiliser the limit is lower: min(10, max(5, 0.4 x stabiliser)) mg/L is the upper free-chlorine limit."""

    feeders: tuple[FeederId, ...]
    cell: SignalId
    bounds: Bounds
    code: Code = CODE
    needs: tuple[Need, ...] = ()
    permit: Permit = PERMIT

    def judge(self, evidence: Evidence, memory: Memory) -> tuple[Verdict, Memory]:
        tripped, value, memory = outside(evidence, memory, self.cell, self.bounds)
        if not tripped:
            return self.permit, memory
        lost = value is None and evidence.flow.proven
        why = (LOST if lost else HIGH).because(moment(evidence, memory.marks[0]), limit_mg_l=self.bounds.high)
        return Denial(CODE, why, False, TEST if lost else ITSELF), memory


def _build(site: Site, params: HighChlorineParams) -> tuple[HighChlorine, ...]:
    chlorine, cell = site.feeding(Substance.CHLORINE), site.first(SignalKind.FREE_CHLORINE)
    if cell is None or not chlorine:
        return ()
    upper = min(10.0, max(5.0, 0.4 * site.pool.stabiliser_mg_l), params.chlorine_mg_l)
    return (HighChlorine(chlorine, cell.id, Bounds(-1e9, upper, DEADBAND_MG_L, CLEAR_S, Quantity.FREE_CHLORINE)),)


KIND = GuardKind(
    CODE, HighChlorineParams, _build, (HIGH, LOST),
    stops="chlorine",
    clears="by itself after 10 min below; if the reading is then lost, with a hand test",
    why="harm to bathers begins with the upper limit; the cell reads it directly",
    fits=lambda site: bool(site.feeding(Substance.CHLORINE)),
)  # fmt: skip
