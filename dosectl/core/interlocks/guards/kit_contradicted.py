"""A hand test that finds far less chlorine than the ORP bears out: kit or electrode lies, and neither may open anything.

Spoiled reagent, a colour test bleached above 10 mg/L and a slip all read low, and what reads low asks for more: with a sound
electrode in its water such a kit drove random pools to 17 mg/L. What is compared, and what ends it, stands in `contradiction`.
"""

from dataclasses import dataclass, replace

from dosectl.core.evidence import Evidence
from dosectl.core.interlocks.answers import moment
from dosectl.core.interlocks.contradiction import Contradiction, checked_mv, contradiction, rose_mv
from dosectl.core.interlocks.fallback import LATER_SHARE, LEAST_USUAL_MG_L
from dosectl.core.interlocks.guard import GuardKind, Memory, Need
from dosectl.core.interlocks.shown import most_by_tests
from dosectl.core.interlocks.usage import DAY_S, HOUR_S, RAISED_TIMES, median_day_mg_l, room_g
from dosectl.core.site import Site
from dosectl.model.feeds import FeederId, Substance
from dosectl.model.reasons import Code, ReasonKind
from dosectl.model.signals import SignalKind
from dosectl.model.verdicts import Limit, Permit, Verdict

CODE = Code("test.contradicted")
PERMIT = Permit(CODE)

# The lower edge of what a pool aims for: three quarters of 2 mg/L, and of 5 % of its stabiliser.
ENOUGH_MG_L, ENOUGH_SHARE = 1.5, 0.0375

# Of half-hour means. Where it rose by so much, 3 mg/L have become 6.5 at the 29.6 mV a decade in theory, 9.5 at a weak 20.
ROSE_MV = 10.0
LIKE_MV = 3.0  # an electrode's wander: 3 mg/L are 3.8 then in theory, 4.2 at a weak 20
LIKE_TIMES = 2.0  # the usual use, as learned use allows an answering electrode
SEEN_S = 26 * HOUR_S  # a day's pump hours and a late start

APART = ReasonKind(
    Code("test.contradicted"),
    "By hand tests free chlorine went from {before} to {tested} mg/L ({method}), while the ORP went from {orp_before_mv} to "
    "{orp_mv} mV: they contradict each other since {since}, and one of them is wrong. Chlorine is held to {rate_mg_l_day} mg/L a "
    "day. Above about 10 mg/L a colour test bleaches and reads low: dilute the sample with tap water. Test by another method (a "
    "colour test and a photometer are one), withdraw a figure that was a slip, check the probe with the pump off.",
)


@dataclass(frozen=True, slots=True)
class KitContradicted:
    """Memory: marks = (when the contradiction was first seen [plant clock],) while it stands."""

    feeders: tuple[FeederId, ...]
    code: Code = CODE
    needs: tuple[Need, ...] = ()
    permit: Permit = PERMIT

    def judge(self, evidence: Evidence, memory: Memory) -> tuple[Verdict, Memory]:
        found = contradiction(evidence)
        if found is None or found.test.value >= enough_mg_l(evidence):
            return self.permit, replace(memory, marks=()) if memory.marks else memory
        if not memory.marks:
            memory = replace(memory, marks=(evidence.clock_s,))
        since_s = memory.marks[0]
        # The usual use, no share of it: at 60 and 30 % an honest kit beside an electrode that had wandered left a pool dead for
        # four weeks. What a pool takes in usual days can't run away on the word of a test.
        rate = max(LEAST_USUAL_MG_L, median_day_mg_l(evidence)) * _times(evidence, found)
        why = APART.because(
            moment(evidence, since_s), tested=round(found.test.value, 2), method=found.test.method,
            before=round(found.before.value, 2), orp_before_mv=round(found.before_beside.orp_mv),
            orp_mv=round(found.beside.orp_mv), rate_mg_l_day=round(rate, 2),
        )  # fmt: skip
        return Limit(CODE, room_g(evidence, Substance.CHLORINE, DAY_S, rate), why), memory


def _times(evidence: Evidence, found: Contradiction) -> float:
    """How much of its usual use the pool gets, by the ORP set against that beside the test before.

    More where it shows no more chlorine than then, for a pool may need more than is known of its use; somewhat more while it
    shows no more than beside the contradicted test itself: where the electrode has drifted up and the kit is honest, a pool whose
    use grew by a quarter stood at 0.6 mg/L for weeks on its usual use. Less where the last
    believed test and the ledger leave room for too much, and the ORP does not speak against that: with no loss shown a hungry
    pool's ordinary feed passes the limit on paper, and at three tenths of it one slip of an owner who then left held a healthy
    pool below 1 mg/L for 141 of 144 hours.
    """
    now, most = evidence.settled, most_by_tests(evidence)
    seen = now is not None and evidence.clock_s - now.at_s <= SEEN_S
    rose = rose_mv(found.before_beside, now) if now is not None and seen else None
    if rose is not None and rose <= LIKE_MV:
        return LIKE_TIMES
    if most is None or most < 1.0:
        since_mv = rose_mv(found.beside, now) if now is not None and seen else None
        return RAISED_TIMES if since_mv is not None and since_mv <= LIKE_MV else 1.0
    orp = evidence.site.first(SignalKind.ORP)
    checked_s = None if orp is None else dict(evidence.standing.calibrated).get(orp.id)
    return LATER_SHARE if rose is None or rose > ROSE_MV + checked_mv(found.before_beside, checked_s) else 1.0


def enough_mg_l(evidence: Evidence) -> float:
    """Free chlorine of which a test that finds so much asks for no more [mg/L]: whatever the ORP says, it can do no harm.

    Held to the fall-back for an honest test of 3.2 mg/L, beside an electrode that had wandered, a pool lay dead for three weeks.
    """
    return max(ENOUGH_MG_L, ENOUGH_SHARE * evidence.site.pool.stabiliser_mg_l)


def _build(site: Site, _: None) -> tuple[KitContradicted, ...]:
    chlorine = site.feeding(Substance.CHLORINE)
    return (KitContradicted(chlorine),) if chlorine and site.first(SignalKind.ORP) is not None else ()


KIND = GuardKind(
    CODE, None, _build, (APART,),
    stops="holds chlorine to its usual use; to 1.3 times that while the ORP lies no higher than beside the contradicted test, to "
    "twice where it has not risen since the test before, to 30 % where tests and ledger allow too "
    "much and the ORP rose by more than 10 mV or is not known",
    clears="by itself with a test that agrees with the ORP, one of another method that agrees with the low one, or one that "
    "went the way of the ORP; with a withdrawn test, or a new electrode",
    why="a kit that reads low asks for more for ever, and a sound electrode must count against it",
)  # fmt: skip
