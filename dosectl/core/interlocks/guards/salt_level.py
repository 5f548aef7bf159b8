"""Salt: too little or too much of it ruins a cell."""

from dataclasses import dataclass

from dosectl.core.evidence import Evidence
from dosectl.core.interlocks.answers import deny, moment
from dosectl.core.interlocks.guard import GuardKind, Memory, Need
from dosectl.core.interlocks.slow_side import BAD, FINE, UNSEEN, sided
from dosectl.core.site import Site
from dosectl.model.feeds import FeederId
from dosectl.model.ranges import setting
from dosectl.model.reasons import Code, ReasonKind
from dosectl.model.signals import SignalId, SignalKind, Status
from dosectl.model.verdicts import Permit, Verdict

CODE = Code("salt.level")
PERMIT = Permit(CODE)
TRIP_S = 300.0
CLEAR_S = 1800.0

OUTSIDE = ReasonKind(
    Code("salt.outside"),
    "Salt is outside {low} to {high} g/L since {since}; the cell is stopped. Test the salt by hand and correct it.",
)
UNKNOWN = ReasonKind(
    Code("salt.unknown"), "The salt has not been read yet at {since}; the cell waits for it. Check the salt probe."
)


@dataclass(frozen=True, slots=True)
class SaltLevelParams:
    low_g_l: float = setting(
        2.0, ge=0.5, le=5.0, unit="g/L", why="common practice: most cells stop near 2 g/L; the label decides"
    )
    high_g_l: float = setting(
        6.0, ge=4.0, le=40.0, unit="g/L", why="common practice: most cells stop near 6 g/L; the label decides"
    )


@dataclass(frozen=True, slots=True)
class SaltLevel:
    feeders: tuple[FeederId, ...]
    signal: SignalId
    params: SaltLevelParams
    code: Code = CODE
    needs: tuple[Need, ...] = ()
    permit: Permit = PERMIT

    def judge(self, evidence: Evidence, memory: Memory) -> tuple[Verdict, Memory]:
        reading = evidence.readings.get(self.signal)
        value = None if reading is None or not evidence.flow.proven else reading.number(Status.OUT_OF_SPEC)
        side = None
        if value is not None:
            side = FINE if self.params.low_g_l <= value <= self.params.high_g_l else BAD
        if memory.count != FINE or side != FINE or memory.since_s is not None:
            memory = sided(memory, evidence.clock_s, side, TRIP_S, CLEAR_S)
        if memory.count == FINE:
            return self.permit, memory
        if memory.count == UNSEEN:
            return deny(CODE, UNKNOWN.because(evidence.now)), memory
        since = moment(evidence, memory.marks[0] if memory.marks else None)
        return deny(CODE, OUTSIDE.because(since, low=self.params.low_g_l, high=self.params.high_g_l)), memory


def _build(site: Site, params: SaltLevelParams) -> tuple[SaltLevel, ...]:
    signal = site.first(SignalKind.SALT)
    cells = tuple(feeder.id for feeder in site.feeders if feeder.kind == "cell")
    return () if signal is None or not cells else (SaltLevel(cells, signal.id, params),)


KIND = GuardKind(
    CODE, SaltLevelParams, _build, (OUTSIDE, UNKNOWN),
    stops="the cell",
    clears="by itself after 30 min inside",
    why="a cell without salt makes oxygen and wears out, one with too much overheats",
)  # fmt: skip
