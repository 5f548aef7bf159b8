"""Acid budget: acid uses up alkalinity, and with little alkalinity left each litre moves the pH twice as far.

What is left is known from a test of the alkalinity and the ledger. Owners test it seldom, and fill water and bicarbonate bring
back what acid takes: on the ledger alone a pool tested for chlorine and pH each week, but never for alkalinity, was without acid
after three weeks. So a hand test of pH that agrees with the probe begins a budget too, one of as much acid as the water bears
from there by what acid was seen to do (`buffering`). It is the least that was found since the test: on the way down water buffers
more again, and with an electrode that drifts upwards nobody sees that it is on the way down.
"""

from dataclasses import dataclass, replace
from typing import NamedTuple

from dosectl.core.evidence import Evidence
from dosectl.core.interlocks.after_feed import PAUSE_S, fed_g, followed, spoilt
from dosectl.core.interlocks.buffering import NO_FALLS, Falls, bears_mg_l
from dosectl.core.interlocks.guard import TEST, GuardKind, Memory, Need
from dosectl.core.interlocks.usage import DAY_S, room_g
from dosectl.core.site import Site
from dosectl.model.feeds import FeederId, Substance
from dosectl.model.ranges import setting
from dosectl.model.reasons import Code, ReasonKind
from dosectl.model.signals import SignalId, SignalKind
from dosectl.model.verdicts import Denial, Limit, Permit, Verdict
from dosectl.model.water_tests import Quantity, WaterTest

CODE = Code("acid.budget")
PERMIT = Permit(CODE)
LIMIT_SHARE_CEILING = 0.30
STOP_SHARE_CEILING = 0.45
AGREES_PH, AGREES_SIGMA = 0.3, 0.2  # common practice: a home test of pH is no better, and strips are worse
HELD_SHARE = 0.8  # of what the water bears; engineering judgement: the rest lasts till the next week's test at the held rate
FEED_MG_L = 0.3  # derived: less moves pH no more than its noise in an hour
LASTS_DAYS = 3.0  # what is left to the stop is spread over these, anew at each step: it fades out, and no latch waits at its end

LOW = ReasonKind(
    Code("acid.budget_low"),
    "Acid has used {used_percent} % of the alkalinity of {alkalinity_mg_l} mg/L since it was last tested; acid is held to "
    "{rate_mg_l_day} mg/L a "
    "day. Test the alkalinity and enter it.",
)
SPENT = ReasonKind(
    Code("acid.budget_spent"),
    "Acid has used {used_percent} % of the alkalinity of {alkalinity_mg_l} mg/L since it was last tested; acid is "
    "stopped. Test the alkalinity, "
    "raise it if it is low, and enter the result.",
)


@dataclass(frozen=True, slots=True)
class AcidBudgetParams:
    limit_share: float = setting(
        0.30, ge=0.05, le=LIMIT_SHARE_CEILING, unit="share", why="derived: 30 % of the alkalinity from pH 7.4 leaves 6.6"
    )
    stop_share: float = setting(
        0.45, ge=0.10, le=STOP_SHARE_CEILING, unit="share", why="engineering judgement: the rest still buffers a pool for days"
    )
    rate_mg_l_day: float = setting(
        1.0,
        ge=0.0,
        le=2.0,
        unit="mg/L as CaCO3 per day",
        why="engineering judgement: slows the rise of pH while a test is awaited",
    )


class Borne(NamedTuple):
    """When the hand test of pH was taken that began a budget [plant clock, -1: none], and the least the water bore since."""

    taken_s: float = -1.0
    least_mg_l: float = 0.0


@dataclass(frozen=True, slots=True)
class Budget:
    """Acid that was used of one budget, and its two bounds. [mg/L as CaCO3]"""

    used_mg_l: float
    limit_mg_l: float
    stop_mg_l: float

    @property
    def left_mg_l(self) -> float:
        return self.stop_mg_l - self.used_mg_l


@dataclass(frozen=True, slots=True)
class AcidBudget:
    """The ledger only grows, so what is spent stays spent until a newer test.

    Memory: recent = the feed being followed; marks = `Falls`, then `Borne`.
    """

    feeders: tuple[FeederId, ...]
    ph: SignalId | None
    params: AcidBudgetParams
    code: Code = CODE
    needs: tuple[Need, ...] = ()
    permit: Permit = PERMIT

    def judge(self, evidence: Evidence, memory: Memory) -> tuple[Verdict, Memory]:
        memory = self._watched(evidence, memory)
        test = evidence.newest_test(Quantity.ALKALINITY) if evidence.tests else None
        alkalinity_mg_l = evidence.site.pool.alkalinity_mg_l if test is None else test.value
        budget = self._by_alkalinity(evidence, alkalinity_mg_l, test)
        if budget.used_mg_l <= budget.limit_mg_l and alkalinity_mg_l > 0.0:
            return self.permit, memory
        percent = round(100.0 * budget.used_mg_l / alkalinity_mg_l) if alkalinity_mg_l > 0.0 else 100
        memory = _borne(evidence, memory, self.ph)
        shown = self._by_ph(evidence, memory, alkalinity_mg_l)
        if shown is not None and shown.left_mg_l > budget.left_mg_l:
            budget = shown
        if budget.used_mg_l <= budget.limit_mg_l and alkalinity_mg_l > 0.0:
            return self.permit, memory
        if budget.left_mg_l < 0.0 or alkalinity_mg_l <= 0.0:
            why = SPENT.because(evidence.now, used_percent=percent, alkalinity_mg_l=round(alkalinity_mg_l))
            return Denial(CODE, why, True, TEST), memory
        rate = round(min(self.params.rate_mg_l_day, budget.left_mg_l / LASTS_DAYS), 1)
        why = LOW.because(evidence.now, used_percent=percent, alkalinity_mg_l=round(alkalinity_mg_l), rate_mg_l_day=rate)
        return Limit(CODE, room_g(evidence, Substance.ACID, DAY_S, rate), why), memory

    def _by_alkalinity(self, evidence: Evidence, alkalinity_mg_l: float, test: WaterTest | None) -> Budget:
        used_mg_l = _fed_since_mg_l(evidence, None if test is None else test.taken_s)
        return Budget(used_mg_l, self.params.limit_share * alkalinity_mg_l, self.params.stop_share * alkalinity_mg_l)

    def _by_ph(self, evidence: Evidence, memory: Memory, alkalinity_mg_l: float) -> Budget | None:
        """What a test of pH and the falls that acid brought allow; never more than the alkalinity last known would."""
        taken_s, bears_mg_l = _kept(memory)[1]
        if taken_s < 0.0 or bears_mg_l <= 0.0 or _confirmed(evidence, self.ph) is None:
            return None
        limit_mg_l = min(HELD_SHARE * bears_mg_l, self.params.limit_share * alkalinity_mg_l)
        stop_mg_l = min(bears_mg_l, self.params.stop_share * alkalinity_mg_l)
        return Budget(_fed_since_mg_l(evidence, taken_s), limit_mg_l, stop_mg_l)

    def _watched(self, evidence: Evidence, memory: Memory) -> Memory:
        """The memory with what the feed that is followed has shown by now."""
        if self.ph is None:
            return memory
        memory, response = followed(memory, evidence, self.feeders, self.ph, FEED_MG_L, PAUSE_S)
        if response is None or spoilt(evidence, response):
            return memory
        falls, borne = _kept(memory)
        total_g = fed_g(evidence, self.feeders)
        falls = falls.and_one(response, evidence, total_g)
        return _borne(evidence, replace(memory, marks=(*falls, *borne)), self.ph)


def _borne(evidence: Evidence, memory: Memory, ph: SignalId | None) -> Memory:
    """The memory with the least that the water bore since the test that confirms the probe by now.

    Where none does, what was found is kept: one that disagrees may be withdrawn, and then the one before it counts again. Begun
    anew on the way down it would bear more.
    """
    falls, borne = _kept(memory)
    found = _confirmed(evidence, ph)
    now = borne
    if found is not None:
        test, probe_ph = found
        began = borne.taken_s >= test.taken_s
        bears = bears_mg_l(falls, evidence, min(probe_ph, test.value))
        if bears is not None:
            now = Borne(test.taken_s, min(bears, borne.least_mg_l) if began else bears)
        else:  # nothing falls any more, or the pH is never seen without acid's fall
            now = Borne(test.taken_s, 0.0) if began else Borne()
    marks = (*falls, *now) if (falls, now) != (NO_FALLS, Borne()) else ()
    return replace(memory, marks=marks) if marks != memory.marks else memory


def _confirmed(evidence: Evidence, ph: SignalId | None) -> tuple[WaterTest, float] | None:
    """The newest hand test of pH that agrees with what the probe showed then, and that. None where a newer one disagrees; what
    the probe before this one showed says nothing."""
    replaced_s = None if ph is None else evidence.standing.replaced_s(ph)
    shown = {beside.request: beside.ph for beside in evidence.beside if replaced_s is None or beside.at_s > replaced_s}
    tests = (test for test in evidence.tests if test.quantity is Quantity.PH and test.request in shown)
    for test in reversed(sorted(tests, key=lambda test: test.taken_s)):  # of the same moment the one entered last first
        apart = abs(shown[test.request] - test.value)
        if apart > max(AGREES_PH, 2.0 * test.sigma):
            return None
        if test.sigma <= AGREES_SIGMA:
            return test, shown[test.request]
    return None


def _fed_since_mg_l(evidence: Evidence, taken_s: float | None) -> float:
    """Acid fed since a test, by the ledger; all of it where there was none."""
    if taken_s is None:
        return evidence.ledger.total_g(Substance.ACID) / evidence.site.pool.volume_m3
    return evidence.fed_mg_l(Substance.ACID, max(0.0, evidence.clock_s - taken_s))


def _kept(memory: Memory) -> tuple[Falls, Borne]:
    """What the marks hold; those of an older record hold nothing."""
    falls = len(Falls._fields)
    if len(memory.marks) != falls + len(Borne._fields):
        return NO_FALLS, Borne()
    return Falls(*memory.marks[:falls]), Borne(*memory.marks[falls:])


def _build(site: Site, params: AcidBudgetParams) -> tuple[AcidBudget, ...]:
    acid, ph = site.feeding(Substance.ACID), site.first(SignalKind.PH)
    return (AcidBudget(acid, None if ph is None else ph.id, params),) if acid else ()


KIND = GuardKind(
    CODE, AcidBudgetParams, _build, (LOW, SPENT),
    stops="limits acid at 30 % of the alkalinity, ever more towards 45 %, where it is stopped",
    clears="with a newer alkalinity test; beside an ORP probe, one of pH that agrees with the probe while acid is seen to act",
    why="20 L of strong acid is beyond all the alkalinity of a home pool: the ledger must know what is left",
)  # fmt: skip
