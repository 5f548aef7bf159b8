"""Learned use: three days' feed against what the pool usually takes, more loosely while there is a second kind of evidence.

The ledger alone can't do both: tight limits starve a healthy pool in a heat wave, loose ones let a stuck probe run. So
the loose tier
is open only with credit: an ORP that lately rose and fell, or a hand test that found the chlorine in bounds.
"""

from dataclasses import dataclass, replace
from math import ceil

from dosectl.core.evidence import Evidence
from dosectl.core.interlocks.answers import moment
from dosectl.core.interlocks.guard import GuardKind, Memory, Need
from dosectl.core.interlocks.shown import safe_test, shown_safe, shown_to_lose
from dosectl.core.interlocks.swing import UNMOVED, followed, moved_both_ways
from dosectl.core.interlocks.usage import DAY_S, HOUR_S, median_day_mg_l, room_g
from dosectl.core.site import Site
from dosectl.model.feeds import FeederId, Substance
from dosectl.model.ranges import setting
from dosectl.model.reasons import Code, ReasonKind
from dosectl.model.signals import SignalId, SignalKind
from dosectl.model.verdicts import Limit, Permit, Verdict

CODE = Code("mass.learned")
PERMIT = Permit(CODE)
CREDIT_FLOW_S = 48 * HOUR_S
TEST_AGE_S = 72 * HOUR_S
CUT_S = 72 * HOUR_S
USUAL_MG_L_MIN = 1.0  # a pool that hardly fed for a fortnight must be able to wake up in spring
TIGHT_TIMES = 1.3
TIGHT_MG_L_MAX = 11.0
TIGHT_MG_L_CEILING = 22.5  # below three days of the daily ceiling of 8
TIGHT_TIMES_LEAST = 1.15  # below the 1.3 that the daily limit lets a pool of much use have, so that the trip can be reached
LOOSE_TIMES = 2.0
DAY_TIMES = 1.5
CREDIT_SHARE = 0.6
DOUBT_SHARE = 0.3
AMPLE_MG_L = 0.5

SETTLING = ReasonKind(
    Code("mass.learned_cut"),
    "Three days took {three_days_mg_l} mg/L, far over the usual {usual_mg_l} mg/L a day, since {since}. Chlorine is cut "
    "to {rate_mg_l_day} mg/L a "
    "day until {until_utc}; a hand test of free chlorine clears it at once.",
)
DOUBTED = ReasonKind(
    Code("mass.learned_latched"),
    "Three days took {three_days_mg_l} mg/L, more than usual ({usual_mg_l} mg/L a day), and nothing shows since {since} "
    "that the probe answers. "
    "Chlorine is cut to {rate_mg_l_day} mg/L a day until free chlorine is tested by hand and entered.",
)
DAY = ReasonKind(
    Code("mass.learned_day"),
    "{limit_mg_l} mg/L in 24 h is 1.5 times the usual, and as long as nothing shows that the probe answers no more is "
    "fed. Test free chlorine "
    "by hand and enter it.",
)


@dataclass(frozen=True, slots=True)
class MassLearnedParams:
    answer_mv: float = setting(
        2.5, ge=1.0, le=20.0, unit="mV", why="derived: six times the noise of a half-hour mean at 2 mV noise a value"
    )


@dataclass(frozen=True, slots=True)
class MassLearned:
    """Memory: recent and marks[0:4] = the electrode's swing; marks[4] = begin of a cut [plant clock]; latched = the
    tight trip; count = the second of the plant clock at which it latched, which no set clock moves."""

    feeders: tuple[FeederId, ...]
    orp: SignalId | None
    params: MassLearnedParams
    code: Code = CODE
    needs: tuple[Need, ...] = ()
    permit: Permit = PERMIT

    def judge(self, evidence: Evidence, memory: Memory) -> tuple[Verdict, Memory]:
        if self.orp is not None:
            memory = followed(memory, evidence, self.orp, self.params.answer_mv)
        test = safe_test(evidence) if evidence.tests else None
        tested_s = None if test is None else test.taken_s
        usual = max(USUAL_MG_L_MIN, median_day_mg_l(evidence))
        three_days = evidence.fed_mg_l(Substance.CHLORINE, 3 * DAY_S)
        memory = self._cleared(evidence, memory, tested_s)
        tested = tested_s is not None and evidence.clock_s - tested_s <= TEST_AGE_S
        credit = tested or moved_both_ways(memory, evidence.flow.clock_s, CREDIT_FLOW_S) or shown_to_lose(evidence)
        if memory.latched is None and not credit and three_days > tight_mg_l(usual):
            rate = round(DOUBT_SHARE * usual, 2)
            facts = {"three_days_mg_l": round(three_days, 1), "usual_mg_l": round(usual, 1), "rate_mg_l_day": rate}
            memory = replace(memory, latched=DOUBTED.because(evidence.now, **facts), count=ceil(evidence.clock_s))
        if memory.latched is not None:
            return Limit(CODE, room_g(evidence, Substance.CHLORINE, DAY_S, DOUBT_SHARE * usual), memory.latched), memory
        if len(memory.marks) < 5 and three_days > LOOSE_TIMES * 3 * usual and not shown_safe(evidence):
            memory = replace(memory, marks=(*(memory.marks or UNMOVED), evidence.clock_s))
        if len(memory.marks) >= 5:
            return self._cut(evidence, memory, usual, three_days), memory
        if not credit:
            left_g = room_g(evidence, Substance.CHLORINE, DAY_S, DAY_TIMES * usual)
            if left_g < AMPLE_MG_L * evidence.site.pool.volume_m3:
                return Limit(CODE, left_g, DAY.because(evidence.now, limit_mg_l=round(DAY_TIMES * usual, 2))), memory
        return self.permit, memory

    def _cleared(self, evidence: Evidence, memory: Memory, tested_s: float | None) -> Memory:
        if memory.latched is not None and memory.count == 0:  # of an older record: only a test from now on is surely later
            memory = replace(memory, count=ceil(evidence.clock_s))
        if memory.latched is not None and tested_s is not None and tested_s > memory.count:
            memory = replace(memory, latched=None, count=0)
        if len(memory.marks) >= 5:
            began_s = memory.marks[4]
            if evidence.clock_s - began_s >= CUT_S or (tested_s is not None and tested_s > began_s):
                memory = replace(memory, marks=memory.marks[:4])
        return memory

    def _cut(self, evidence: Evidence, memory: Memory, usual: float, three_days: float) -> Limit:
        began_s = memory.marks[4]
        rate = CREDIT_SHARE * usual
        facts = {"three_days_mg_l": round(three_days, 1), "usual_mg_l": round(usual, 1), "rate_mg_l_day": round(rate, 2)}
        why = SETTLING.because(moment(evidence, began_s), **facts, until_utc=_until(evidence, began_s))
        return Limit(CODE, room_g(evidence, Substance.CHLORINE, DAY_S, rate), why)


def tight_mg_l(usual_mg_l: float) -> float:
    """What three days may take of a pool whose probe gives no answer [mg/L]."""
    most = min(TIGHT_MG_L_CEILING, max(TIGHT_MG_L_MAX, TIGHT_TIMES_LEAST * 3 * usual_mg_l))
    return min(TIGHT_TIMES * 3 * usual_mg_l, most)


def _until(evidence: Evidence, began_s: float) -> str:
    return moment(evidence, began_s + CUT_S).utc.strftime("%Y-%m-%dT%H:%MZ")


def _build(site: Site, params: MassLearnedParams) -> tuple[MassLearned, ...]:
    chlorine = site.feeding(Substance.CHLORINE)
    orp = site.first(SignalKind.ORP)
    return (MassLearned(chlorine, None if orp is None else orp.id, params),) if chlorine else ()


KIND = GuardKind(
    CODE, MassLearnedParams, _build, (SETTLING, DOUBTED, DAY),
    stops="cuts chlorine to 60 % of usual use, or to 30 % where the probe gives no answer; never to nothing",
    clears="after 72 h, or with a hand test of free chlorine far from too much; without an answering probe only with the test",
    why="a daily limit does not bound three weeks: 5 mg/L a day at a loss of a fifth a day settles near 25 mg/L",
)  # fmt: skip
