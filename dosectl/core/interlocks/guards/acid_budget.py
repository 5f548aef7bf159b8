"""Acid budget: acid uses up alkalinity, and with little alkalinity left each litre moves the pH twice as far.

What is left is known from a test of the alkalinity and the ledger. Owners test it seldom, and fill water and bicarbonate bring
back what acid takes: on the ledger alone a pool tested for chlorine and pH each week, but never for alkalinity, was without acid
after three weeks. So a hand test of pH that agrees with the probe begins a budget too, one of as much acid as the water bears
from there by what acid was seen to do (`buffering`).
"""

from dataclasses import dataclass, replace

from dosectl.core.evidence import Evidence
from dosectl.core.interlocks.after_feed import followed, spoilt
from dosectl.core.interlocks.buffering import NO_FALLS, Falls, bears_mg_l
from dosectl.core.interlocks.by_itself import Course, observed
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


@dataclass(frozen=True, slots=True)
class Budget:
    """Acid that was used of one budget, and its two bounds. [mg/L as CaCO3]"""

    used_mg_l: float
    limit_mg_l: float
    stop_mg_l: float


@dataclass(frozen=True, slots=True)
class AcidBudget:
    """The ledger only grows, so what is spent stays spent until a newer test.

    Memory: recent = the feed being followed; marks = `Falls`, then the `Course` of the pH without acid.
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
        shown = self._by_ph(evidence, memory, alkalinity_mg_l)
        if shown is not None and shown.stop_mg_l - shown.used_mg_l > budget.stop_mg_l - budget.used_mg_l:
            budget = shown
        if budget.used_mg_l <= budget.limit_mg_l and alkalinity_mg_l > 0.0:
            return self.permit, memory
        if budget.used_mg_l > budget.stop_mg_l or alkalinity_mg_l <= 0.0:
            why = SPENT.because(evidence.now, used_percent=percent, alkalinity_mg_l=round(alkalinity_mg_l))
            return Denial(CODE, why, True, TEST), memory
        rate = round(min(self.params.rate_mg_l_day, (budget.stop_mg_l - budget.used_mg_l) / LASTS_DAYS), 1)
        why = LOW.because(evidence.now, used_percent=percent, alkalinity_mg_l=round(alkalinity_mg_l), rate_mg_l_day=rate)
        return Limit(CODE, room_g(evidence, Substance.ACID, DAY_S, rate), why), memory

    def _by_alkalinity(self, evidence: Evidence, alkalinity_mg_l: float, test: WaterTest | None) -> Budget:
        used_mg_l = _fed_since_mg_l(evidence, None if test is None else test.taken_s)
        return Budget(used_mg_l, self.params.limit_share * alkalinity_mg_l, self.params.stop_share * alkalinity_mg_l)

    def _by_ph(self, evidence: Evidence, memory: Memory, alkalinity_mg_l: float) -> Budget | None:
        """What the newest test of pH and the falls that acid brought allow; never more than the alkalinity last known would."""
        test = evidence.newest_test(Quantity.PH)
        if test is None or test.sigma > AGREES_SIGMA:
            return None
        probe_ph = next((beside.ph for beside in evidence.beside if beside.request == test.request), None)
        if probe_ph is None or abs(probe_ph - test.value) > AGREES_PH:
            return None
        bears = bears_mg_l(_kept(memory)[0], evidence, min(probe_ph, test.value))
        if bears is None:
            return None
        limit_mg_l = min(bears, self.params.limit_share * alkalinity_mg_l)
        stop_mg_l = limit_mg_l * self.params.stop_share / self.params.limit_share
        return Budget(_fed_since_mg_l(evidence, test.taken_s), limit_mg_l, stop_mg_l)

    def _watched(self, evidence: Evidence, memory: Memory) -> Memory:
        """The memory with what the feed that is followed has shown by now."""
        before = memory
        if self.ph is not None:
            memory, response = followed(memory, evidence, self.feeders, self.ph, FEED_MG_L)
        if memory is before:
            return memory
        falls, course = _kept(memory)
        course = observed(course, before, memory, evidence.flow.clock_s, evidence.standing.added_s)
        if response is not None and not spoilt(evidence, response):
            falls = falls.and_one(response, memory.recent[1], course.per_h)
        marks = (*falls, *course) if (falls, course) != (NO_FALLS, Course()) else ()
        return replace(memory, marks=marks) if marks != memory.marks else memory


def _fed_since_mg_l(evidence: Evidence, taken_s: float | None) -> float:
    """Acid fed since a test, by the ledger; all of it where there was none."""
    if taken_s is None:
        return evidence.ledger.total_g(Substance.ACID) / evidence.site.pool.volume_m3
    return evidence.fed_mg_l(Substance.ACID, max(0.0, evidence.clock_s - taken_s))


def _kept(memory: Memory) -> tuple[Falls, Course]:
    """What the marks hold; those of an older record hold nothing."""
    if len(memory.marks) != len(Falls._fields) + len(Course._fields):
        return NO_FALLS, Course()
    return Falls(*memory.marks[: len(Falls._fields)]), Course(*memory.marks[len(Falls._fields) :])


def _build(site: Site, params: AcidBudgetParams) -> tuple[AcidBudget, ...]:
    acid, ph = site.feeding(Substance.ACID), site.first(SignalKind.PH)
    return (AcidBudget(acid, None if ph is None else ph.id, params),) if acid else ()


KIND = GuardKind(
    CODE, AcidBudgetParams, _build, (LOW, SPENT),
    stops="limits acid at 30 % of the alkalinity, ever more towards 45 %, where it is stopped",
    clears="with a newer alkalinity test, or one of pH that agrees with the probe while acid moves the pH as in buffered water",
    why="20 L of strong acid is beyond all the alkalinity of a home pool: the ledger must know what is left",
)  # fmt: skip
