"""Low pH: acid stops; far below, with acid fed lately, it is locked until a person has looked."""

from dataclasses import dataclass, replace

from dosectl.core.evidence import Evidence
from dosectl.core.interlocks.answers import latch, moment, standing
from dosectl.core.interlocks.bounds import Bounds, outside
from dosectl.core.interlocks.guard import ITSELF, TEST, GuardKind, Memory, Need
from dosectl.core.interlocks.usage import DAY_S
from dosectl.core.site import Site
from dosectl.model.feeds import FeederId, Substance
from dosectl.model.ranges import setting
from dosectl.model.reasons import Code, ReasonKind
from dosectl.model.signals import SignalId, SignalKind
from dosectl.model.verdicts import Denial, Permit, Verdict
from dosectl.model.water_tests import Quantity

CODE = Code("low.ph")
PERMIT = Permit(CODE)
PH_FLOOR = 6.9
LATCH_PH = 6.6
LATCH_S = 60.0
SETTLED_S = 300.0
DEADBAND = 0.05
CLEAR_S = 600.0

LOW = ReasonKind(Code("low.ph_under"), "pH is below {low} since {since}; acid is stopped. Do not swim below 7.0; test by hand.")
LOST = ReasonKind(
    Code("low.ph_lost"),
    "pH was below {low} at {since} and is now lost; acid stays stopped until pH is tested by hand and entered.",
)
OVERFED = ReasonKind(
    Code("low.ph_overfed"),
    "pH fell below {low} at {since} with acid fed in the last 24 h; acid is locked. Do not swim. Test pH and alkalinity "
    "by hand, and find out "
    "why before you clear this.",
)


@dataclass(frozen=True, slots=True)
class LowPhParams:
    ph: float = setting(7.0, ge=PH_FLOOR, le=7.4, unit="pH", why="common practice: below 7.0 water stings and corrodes")


@dataclass(frozen=True, slots=True)
class LowPh:
    """Memory besides the bounds': since_s = since when it is far below."""

    feeders: tuple[FeederId, ...]
    ph: SignalId
    bounds: Bounds
    code: Code = CODE
    needs: tuple[Need, ...] = ()
    permit: Permit = PERMIT

    def judge(self, evidence: Evidence, memory: Memory) -> tuple[Verdict, Memory]:
        tripped, value, memory = outside(evidence, memory, self.ph, self.bounds)
        if not tripped and memory.latched is None:
            return self.permit, memory if memory.since_s is None else replace(memory, since_s=None)
        memory = self._far_below(evidence, memory, value)
        if memory.since_s is not None and evidence.clock_s - memory.since_s >= LATCH_S:
            return latch(CODE, memory, OVERFED.because(moment(evidence, memory.since_s), low=LATCH_PH))
        if memory.latched is not None:
            return standing(CODE, memory), memory
        lost = value is None and evidence.flow.proven
        why = (LOST if lost else LOW).because(moment(evidence, memory.marks[0]), low=self.bounds.low)
        return Denial(CODE, why, False, TEST if lost else ITSELF), memory

    def _far_below(self, evidence: Evidence, memory: Memory, value: float | None) -> Memory:
        if value is None:
            return memory
        since_s = evidence.flow.since_s
        settled = since_s is not None and evidence.clock_s - since_s >= SETTLED_S
        fed = evidence.ledger.window_g(Substance.ACID, evidence.clock_s, DAY_S) > 0.0
        far = value < LATCH_PH and settled and fed
        if far and memory.since_s is None:
            return replace(memory, since_s=evidence.clock_s)
        return replace(memory, since_s=None) if not far and memory.since_s is not None else memory


def _build(site: Site, params: LowPhParams) -> tuple[LowPh, ...]:
    acid, ph = site.feeding(Substance.ACID), site.first(SignalKind.PH)
    if ph is None or not acid:
        return ()
    return (LowPh(acid, ph.id, Bounds(params.ph, 1e9, DEADBAND, CLEAR_S, Quantity.PH)),)


KIND = GuardKind(
    CODE, LowPhParams, _build, (LOW, LOST, OVERFED),
    stops="acid",
    clears="by itself after 10 min above; below 6.6 with acid fed lately by a person",
    why="acid that goes on at a low pH comes from a fault, and the water harms skin, eyes and metal",
)  # fmt: skip
