"""Salt: too little or too much of it ruins a cell."""

from dataclasses import dataclass

from dosectl.core.evidence import Evidence
from dosectl.core.interlocks.answers import deny, moment
from dosectl.core.interlocks.guard import GuardKind, Memory, Need
from dosectl.core.interlocks.slow_side import BAD, DAY_S, FINE, UNSEEN, sided, steady
from dosectl.core.site import Site
from dosectl.model.feeds import FeederId
from dosectl.model.ranges import setting
from dosectl.model.reasons import Code, ReasonKind
from dosectl.model.signals import SignalId, SignalKind, Status
from dosectl.model.verdicts import Permit, Verdict
from dosectl.model.water_tests import Quantity

CODE = Code("salt.level")
PERMIT = Permit(CODE)
TRIP_S = 300.0
CLEAR_S = 1800.0
UNHEARD_S = 7 * DAY_S  # only exchanged water takes salt away: a twentieth a day leaves 3.2 g/L at 2.2 after a week
TEST_AGE_S = 21 * DAY_S  # a hand test stands in for a sensor that is lost: nothing uses salt up

OUTSIDE = ReasonKind(
    Code("salt.outside"),
    "Salt is outside {low} to {high} g/L since {since}; the cell is stopped. Test the salt by hand and correct it.",
)
UNKNOWN = ReasonKind(
    Code("salt.unknown"),
    "The salt is not known at {since}, or no longer; the cell waits for it. Test the salt by hand and enter it; check the "
    "salt probe.",
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
        if not steady(memory, side):
            memory = sided(memory, evidence.clock_s, side, TRIP_S, CLEAR_S, UNHEARD_S)
        if memory.count == FINE:
            return self.permit, memory
        if memory.count == UNSEEN:
            if self._tested(evidence):
                return self.permit, memory
            return deny(CODE, UNKNOWN.because(evidence.now)), memory
        since = moment(evidence, memory.marks[0] if memory.marks else None)
        return deny(CODE, OUTSIDE.because(since, low=self.params.low_g_l, high=self.params.high_g_l)), memory

    def _tested(self, evidence: Evidence) -> bool:
        """Whether a hand test of the last weeks found the salt inside."""
        test = evidence.newest_test(Quantity.SALT)
        young = test is not None and 0.0 <= evidence.clock_s - test.taken_s <= TEST_AGE_S
        return young and test is not None and self.params.low_g_l <= test.value <= self.params.high_g_l


def _build(site: Site, params: SaltLevelParams) -> tuple[SaltLevel, ...]:
    signal = site.first(SignalKind.SALT)
    cells = tuple(feeder.id for feeder in site.feeders if feeder.kind == "cell")
    return () if signal is None or not cells else (SaltLevel(cells, signal.id, params),)


KIND = GuardKind(
    CODE, SaltLevelParams, _build, (OUTSIDE, UNKNOWN),
    stops="the cell",
    clears="by itself after 30 min inside",
    why="a cell without salt makes oxygen and wears out, one with too much overheats",
    fits=lambda site: any(feeder.kind == "cell" for feeder in site.feeders),
)  # fmt: skip
