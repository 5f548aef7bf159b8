"""A hand test above the upper limit: whatever is believed of the water, what it found must fade before more is fed.

The estimate may take such a test for a slip of the pen, and a mute electrode then asks for more: beside one, in cold water, two
weekly tests of 10.7 mg/L were not believed, and a pool was fed over its limit for two weeks. Here the test itself speaks, with
the ledger since and a small loss. A slip costs the pool some days at most, and ends when it is withdrawn or tested anew.
"""

from dataclasses import dataclass
from math import exp

from dosectl.chemistry.chlorine import upper_free_chlorine_limit_mg_l
from dosectl.core.evidence import Evidence
from dosectl.core.interlocks.answers import moment
from dosectl.core.interlocks.guard import GuardKind, Memory, Need
from dosectl.core.interlocks.shown import KEEPS_SHARE, TEST_DAYS, least_loss_a_day
from dosectl.core.interlocks.usage import DAY_S, DAYS_NEEDED, days_known, median_day_mg_l
from dosectl.core.site import Site
from dosectl.model.feeds import FeederId, Substance
from dosectl.model.reasons import Code, ReasonKind
from dosectl.model.verdicts import Limit, Permit, Verdict
from dosectl.model.water_tests import Quantity, WaterTest

CODE = Code("high.tested")
PERMIT = Permit(CODE)

FED_UP_TO_SHARE = 0.9  # of the limit: what is counted as left leaves room for a test's own error
# A 30 typed for 3.0 would keep a pool unfed for a week: beyond this it says the same, and fades within some three days.
COUNTED_SHARE_MOST = 1.25

OVER = ReasonKind(
    Code("high.tested_over"),
    "A test by hand ({method}) found {tested} mg/L of free chlorine at {since}, above the limit of {limit_mg_l}. Nobody swims. "
    "No more than {room_mg_l} mg/L is fed now, which grows as the found chlorine fades. Test again; withdraw a slip.",
)


@dataclass(frozen=True, slots=True)
class HighTested:
    """No memory: the newest test of free chlorine, of the last week, is judged anew each time."""

    feeders: tuple[FeederId, ...]
    code: Code = CODE
    needs: tuple[Need, ...] = ()
    permit: Permit = PERMIT

    def judge(self, evidence: Evidence, memory: Memory) -> tuple[Verdict, Memory]:
        test = evidence.newest_test(Quantity.FREE_CHLORINE)
        limit_mg_l = limit_by_tests_mg_l(evidence)
        if test is None or test.value < limit_mg_l or evidence.clock_s - test.taken_s > TEST_DAYS * DAY_S:
            return self.permit, memory
        room_mg_l = max(0.0, FED_UP_TO_SHARE * limit_mg_l - there_mg_l(evidence, test, limit_mg_l))
        why = OVER.because(
            moment(evidence, test.taken_s), method=test.method, tested=round(test.value, 2), limit_mg_l=limit_mg_l,
            room_mg_l=round(room_mg_l, 1),
        )  # fmt: skip
        return Limit(CODE, room_mg_l * evidence.site.pool.volume_m3, why), memory


def limit_by_tests_mg_l(evidence: Evidence) -> float:
    """The upper limit for the stabiliser of the newest test of it, or of the settings. [mg/L]"""
    newest = evidence.newest_test(Quantity.STABILISER)
    return upper_free_chlorine_limit_mg_l(evidence.site.pool.stabiliser_mg_l if newest is None else min(1000.0, newest.value))


def there_mg_l(evidence: Evidence, test: WaterTest, limit_mg_l: float) -> float:
    """What is counted as left of a test's chlorine and of all that was booked since. [mg/L]

    It loses the least share that the pool may lose, or half of its usual use where that is learnt and more: usual use was that at
    the target, and so much chlorine loses more, unless its losses have ended.
    """
    days = max(0.0, evidence.clock_s - test.taken_s) / DAY_S
    fed_mg_l = evidence.fed_mg_l(Substance.CHLORINE, days * DAY_S)
    found_mg_l = min(test.value, COUNTED_SHARE_MOST * limit_mg_l)
    kept = exp(-least_loss_a_day(evidence) * days)
    learnt = len(days_known(evidence, Substance.CHLORINE)) >= DAYS_NEEDED
    lost_mg_l = KEEPS_SHARE * median_day_mg_l(evidence) * days if learnt else 0.0
    return max(0.0, min(found_mg_l * kept + fed_mg_l, found_mg_l + fed_mg_l - lost_mg_l))


def _build(site: Site, _: None) -> tuple[HighTested, ...]:
    chlorine = site.feeding(Substance.CHLORINE)
    return (HighTested(chlorine),) if chlorine else ()


KIND = GuardKind(
    CODE, None, _build, (OVER,),
    stops="holds chlorine until what a hand test above the upper limit found, and what was fed since, has faded by a tenth a "
    "day, or by half of the learnt usual use, to nine tenths of the limit; then feeds no more than keeps it there",
    clears="with a newer test below the limit, or the test withdrawn; else after a week",
    why="a test above the limit counts before an estimate or an electrode that says otherwise: the wrong way round is a harm",
)  # fmt: skip
