"""A hand test above the upper limit: whatever is believed of the water, nothing is fed for a day, then no more than twice
the usual.

The estimate may take such a test for a slip of the pen, and a mute electrode then asks for more: beside one, in cold water, two
weekly tests of 10.7 mg/L were not believed, and a pool was fed over its limit for two weeks. Here the test itself speaks.

A slip costs a pool that day, and ends when it is withdrawn or the water tested anew. Held until a tenth a day had taken what was
found, four healthy random pools lay below 1 mg/L for 143 to 160 of 168 hours; so it is 17 to 37. Twice the usual use can't run
away: once, it held the water at its target, and of more chlorine more is lost.
"""

from dataclasses import dataclass

from dosectl.chemistry.chlorine import upper_free_chlorine_limit_mg_l
from dosectl.core.evidence import Evidence
from dosectl.core.interlocks.answers import moment
from dosectl.core.interlocks.fallback import LEAST_USUAL_MG_L
from dosectl.core.interlocks.guard import GuardKind, Memory, Need
from dosectl.core.interlocks.shown import SAFE_SHARE
from dosectl.core.interlocks.two_tests import BLEACHING
from dosectl.core.interlocks.usage import DAY_S, median_day_mg_l, room_g
from dosectl.core.site import Site
from dosectl.model.feeds import FeederId, Substance
from dosectl.model.reasons import Code, ReasonKind
from dosectl.model.verdicts import Limit, Permit, Verdict
from dosectl.model.water_tests import Quantity, WaterTest

CODE = Code("high.tested")
PERMIT = Permit(CODE)

HOLD_S = 86400.0  # time to test again, as the call asks; a pool of 3 mg/L that loses 2.5 a day is not dead yet
SAYS_S = 7 * 86400.0  # the next weekly test
BLEACHED_MG_L = 1.0  # a colour that shows less, soon after one above the limit, has faded: few pools lose so much
BLEACHED_S = 3 * 86400.0  # "soon"; a pool in little sun loses a tenth a day, and the usual use is let through after the first
TIMES_MOST = 2.0  # as learned use allows an electrode that answers; at 1.3 a slip left a pool below 1 mg/L for 122 of 168 hours
HELD_SHARE, HELD_MG_L_LEAST = 0.075, 2.0  # what the usual use held, of the stabiliser: the larger of the rules; common practice

OVER = ReasonKind(
    Code("high.tested_over"),
    "A test by hand ({method}) found {tested} mg/L of free chlorine at {since}; the limit is {limit_mg_l}: nobody swims above "
    "it. In the day after it nothing is fed, then at most {rate_mg_l_day} mg/L a day, until a newer test. Test again; "
    "withdraw a slip.",
)


@dataclass(frozen=True, slots=True)
class HighTested:
    """No memory: the newest test of free chlorine, of the last week, is judged anew each time."""

    feeders: tuple[FeederId, ...]
    code: Code = CODE
    needs: tuple[Need, ...] = ()
    permit: Permit = PERMIT

    def judge(self, evidence: Evidence, memory: Memory) -> tuple[Verdict, Memory]:
        stabiliser_mg_l = evidence.stabiliser_mg_l()
        limit_mg_l = upper_free_chlorine_limit_mg_l(stabiliser_mg_l)
        test = telling(evidence, limit_mg_l)
        if test is None or test.value < limit_mg_l:
            return self.permit, memory
        age_s = evidence.clock_s - test.taken_s
        if age_s > SAYS_S:
            return self.permit, memory
        rate = times(limit_mg_l, stabiliser_mg_l) * max(LEAST_USUAL_MG_L, median_day_mg_l(evidence))
        why = OVER.because(
            moment(evidence, test.taken_s), method=test.method, tested=round(test.value, 2), limit_mg_l=limit_mg_l,
            rate_mg_l_day=round(rate, 2),
        )  # fmt: skip
        return Limit(CODE, 0.0 if age_s < HOLD_S else room_g(evidence, Substance.CHLORINE, DAY_S, rate), why), memory


def telling(evidence: Evidence, limit_mg_l: float) -> WaterTest | None:
    """The newest test of free chlorine; soon after one above the limit none whose colour so much chlorine may bleach."""
    told: WaterTest | None = None
    firm_s = float("-inf")  # when a chemistry that does not bleach last found so much
    for test in sorted((t for t in evidence.tests if t.quantity is Quantity.FREE_CHLORINE), key=lambda t: t.taken_s):
        bleaches = test.method in BLEACHING
        if test.value >= limit_mg_l:
            firm_s = firm_s if bleaches else test.taken_s
        elif told is not None and told.value >= limit_mg_l and bleaches:
            faint = test.value < BLEACHED_MG_L and test.taken_s - told.taken_s < BLEACHED_S
            if faint or test.taken_s - firm_s < BLEACHED_S:
                continue
        else:
            firm_s = float("-inf")
        told = test
    return told


def times(limit_mg_l: float, stabiliser_mg_l: float) -> float:
    """How many times the usual use is let through: as the level that it held lies below the limit, if losses grow with it."""
    held_mg_l = max(HELD_MG_L_LEAST, HELD_SHARE * stabiliser_mg_l)
    return min(TIMES_MOST, max(1.0, SAFE_SHARE * limit_mg_l / held_mg_l))


def _build(site: Site, _: None) -> tuple[HighTested, ...]:
    chlorine = site.feeding(Substance.CHLORINE)
    return (HighTested(chlorine),) if chlorine else ()


KIND = GuardKind(
    CODE, None, _build, (OVER,),
    stops="chlorine for a day after a hand test above the upper limit, then holds it to twice the usual use, to less where the "
    "target lies near that limit",
    clears="with a newer test below the limit (within three days none by colour, which bleaches, but one of 1 mg/L and more "
    "after a test by colour alone); with a withdrawn test; after a week",
    why="a test above the limit counts before an estimate or an electrode that says otherwise: the wrong way round is a harm",
)  # fmt: skip
