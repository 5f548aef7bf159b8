"""High ORP: the last line against overchlorination that reads the electrode itself. Weak in stabilised water, so it
stands alone."""

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

CODE = Code("high.orp")
PERMIT = Permit(CODE)
ORP_MV_CEILING = 850.0
CLEAR_S = 600.0

HIGH = ReasonKind(
    Code("high.orp_over"),
    "ORP is over {limit_mv:.0f} mV since {since}; chlorine is stopped. Test free chlorine by hand before anyone swims.",
)
LOST = ReasonKind(
    Code("high.orp_lost"),
    "ORP was over {limit_mv:.0f} mV at {since} and is now lost; chlorine stays stopped until free chlorine is tested by "
    "hand and entered.",
)


@dataclass(frozen=True, slots=True)
class HighOrpParams:
    orp_mv: float = setting(
        850.0,
        ge=600.0,
        le=ORP_MV_CEILING,
        unit="mV",
        why="common practice: a ceiling; better the commissioned reading at target + 60 mV",
    )
    deadband_mv: float = setting(
        10.0, ge=2.0, le=50.0, unit="mV", why="engineering judgement: several times the electrode's noise"
    )


@dataclass(frozen=True, slots=True)
class HighOrp:
    feeders: tuple[FeederId, ...]
    orp: SignalId
    bounds: Bounds
    code: Code = CODE
    needs: tuple[Need, ...] = ()
    permit: Permit = PERMIT

    def judge(self, evidence: Evidence, memory: Memory) -> tuple[Verdict, Memory]:
        tripped, value, memory = outside(evidence, memory, self.orp, self.bounds)
        if not tripped:
            return self.permit, memory
        lost = value is None and evidence.flow.proven
        why = (LOST if lost else HIGH).because(moment(evidence, memory.marks[0]), limit_mv=self.bounds.high)
        return Denial(CODE, why, False, TEST if lost else ITSELF), memory


def _build(site: Site, params: HighOrpParams) -> tuple[HighOrp, ...]:
    chlorine, orp = site.feeding(Substance.CHLORINE), site.first(SignalKind.ORP)
    if orp is None or not chlorine:
        return ()
    return (HighOrp(chlorine, orp.id, Bounds(-1e9, params.orp_mv, params.deadband_mv, CLEAR_S, Quantity.FREE_CHLORINE)),)


KIND = GuardKind(
    CODE, HighOrpParams, _build, (HIGH, LOST),
    stops="chlorine",
    clears="by itself after 10 min below; if the reading is then lost, with a hand test",
    why="whatever the estimate believes, an electrode this high means far too much chlorine or a fault",
)  # fmt: skip
