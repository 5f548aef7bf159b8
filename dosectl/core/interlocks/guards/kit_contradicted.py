"""A hand test that finds far less chlorine than the ORP bears out: kit or electrode lies, and neither may open anything.

Spoiled reagent, a colour test bleached above 10 mg/L and a slip all read low, and what reads low asks for more: with a sound
electrode in its water such a kit drove random pools to 17 mg/L. What is compared stands in `two_tests`, what ends it in
`contradiction`.
"""

from dataclasses import dataclass, replace

from dosectl.chemistry.chlorine import upper_free_chlorine_limit_mg_l
from dosectl.core.evidence import Evidence
from dosectl.core.interlocks.answers import moment
from dosectl.core.interlocks.contradiction import SEEN_S, Contradiction, contradiction
from dosectl.core.interlocks.fallback import LATER_SHARE, LEAST_USUAL_MG_L
from dosectl.core.interlocks.guard import GuardKind, Memory, Need
from dosectl.core.interlocks.shown import SAFE_SHARE, SURE, most_by_tests
from dosectl.core.interlocks.two_tests import checked_mv, rose_mv
from dosectl.core.interlocks.usage import DAY_S, DAYS_NEEDED, RAISED_TIMES, days_known, median_day_mg_l, room_g
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
TOOK_S, TOOK_DAYS_LEAST = 14 * DAY_S, 3.0

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
        # All of what it took, no share of it: at 60 and 30 % an honest kit beside an electrode that had wandered left a pool dead
        # for four weeks. What held the water before the two parted can't run away on the word of a test.
        rate = max(LEAST_USUAL_MG_L, took_mg_l_day(evidence, found)) * _times(evidence, found)
        why = APART.because(
            moment(evidence, since_s), tested=round(found.test.value, 2), method=found.test.method,
            before=round(found.before.value, 2), orp_before_mv=round(found.before_beside.orp_mv),
            orp_mv=round(found.beside.orp_mv), rate_mg_l_day=round(rate, 2),
        )  # fmt: skip
        return Limit(CODE, room_g(evidence, Substance.CHLORINE, DAY_S, rate), why), memory


def _times(evidence: Evidence, found: Contradiction) -> float:
    """How much of what it took the pool gets, by the ORP set against that beside the test before.

    More where it shows no more chlorine than then, for a pool may need more than is known of its use; somewhat more while it
    shows no more than beside the contradicted test itself: where the electrode has drifted up and the kit is honest, a pool whose
    use grew by a quarter stood at 0.6 mg/L for weeks on its usual use. Less where the last
    believed test and the ledger leave room for too much, and the ORP does not speak against that: with no loss shown a hungry
    pool's ordinary feed passes the limit on paper, and at three tenths of it one slip of an owner who then left held a healthy
    pool below 1 mg/L for 141 of 144 hours.
    """
    now, most = evidence.settled, most_by_tests(evidence)
    if now is not None and evidence.clock_s - now.at_s > SEEN_S:
        now = None
    rose = None if now is None else rose_mv(found.before_beside, now)
    # Where the test before was near the upper limit itself, an ORP that has not risen since is no comfort.
    limit_mg_l = upper_free_chlorine_limit_mg_l(evidence.site.pool.stabiliser_mg_l)
    ample = found.before.value + SURE * found.before.sigma < SAFE_SHARE * limit_mg_l
    if ample and rose is not None and rose <= LIKE_MV:
        return LIKE_TIMES
    if most is None or most < 1.0:
        return RAISED_TIMES if ample and now is not None and rose_mv(found.beside, now) <= LIKE_MV else 1.0
    orp = evidence.site.first(SignalKind.ORP)
    checked_s = None if orp is None else dict(evidence.standing.calibrated).get(orp.id)
    return LATER_SHARE if not ample or rose is None or rose > ROSE_MV + checked_mv(found.before_beside, checked_s) else 1.0


def took_mg_l_day(evidence: Evidence, found: Contradiction) -> float:
    """What the pool took a day in the fortnight before kit and electrode parted, by the ledger. [mg/L]

    That is raw evidence of this water: a new pool's usual use is a guess and one on record may be another season's, and with
    either a kit that says nothing took a pool that loses 0.8 mg/L a day to 15 mg/L. Before the last test that both agree on, as a
    drifting electrode lets less be fed afterwards; where the ledger hardly reaches back so far, the usual use that was learnt.
    """
    by_ledger = _took_mg_l_day(evidence, found.before.taken_s)
    if by_ledger is None and len(days_known(evidence, Substance.CHLORINE)) < DAYS_NEEDED:
        by_ledger = _took_mg_l_day(evidence, found.parted_s)
    return median_day_mg_l(evidence) if by_ledger is None else by_ledger


def _took_mg_l_day(evidence: Evidence, until_s: float) -> float | None:
    """The mean of the fortnight before; None where the ledger knows less than three days of it, or nothing was fed. [mg/L]"""
    books = tuple(book for book in evidence.ledger.feeders if book.substance is not Substance.ACID)
    begun_s = min((book.times_s[0] for book in books if book.times_s), default=until_s)
    from_s = max(until_s - TOOK_S, begun_s, *(book.known_from_s for book in books))
    if until_s - from_s < TOOK_DAYS_LEAST * DAY_S:
        return None
    now_s = evidence.clock_s
    fed_mg_l = evidence.fed_mg_l(Substance.CHLORINE, now_s - from_s) - evidence.fed_mg_l(Substance.CHLORINE, now_s - until_s)
    return fed_mg_l * DAY_S / (until_s - from_s) if fed_mg_l > 0.0 else None


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
    stops="holds chlorine to what the pool took before the two parted; to 1.3 times that while the ORP lies no higher than at "
    "that test, to twice where it has not risen since the test before, to 30 % where tests and ledger allow too much and the "
    "ORP rose by more than 10 mV, is not known, or the test before was near the limit",
    clears="by itself with a test that agrees with the ORP, one of another method that agrees with the low one, or one that "
    "went the way of the ORP; with a withdrawn test, or a new electrode",
    why="a kit that reads low asks for more for ever, and a sound electrode must count against it",
)  # fmt: skip
