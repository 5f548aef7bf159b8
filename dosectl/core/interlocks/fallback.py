"""The fall-back rate: what chlorine may be fed while a reading it needs is in doubt.

Stopping is a hazard too: without feed an unattended pool loses its chlorine in two days. 60 % of usual use for seven days, then
30 % with no end, bounds the chlorine near 10 mg/L at ordinary losses (mass balance at a median of 2.4 to 3 mg/L a day and a loss
of 10 % a day).

A hand test is evidence of its own. While even with the least loss what it showed and what was fed since stay well below the upper
limit, all of the usual use may be fed; where they could pass it, the late share. Two tests and what was fed between them show how
much this pool loses at least; where that is more than a tenth, a growing demand may be followed to 1.3 times the usual. Without
this a pool with a dead probe was lost within weeks, however faithfully it was tested. What it costs: losses that fall to a tenth
within the week between two tests. Reasons of such limits have a code that ends in `.fallback`.
"""

from math import exp

from dosectl.chemistry.chlorine import upper_free_chlorine_limit_mg_l
from dosectl.core.evidence import Evidence
from dosectl.core.interlocks.answers import moment
from dosectl.core.interlocks.usage import DAY_S, RAISED_TIMES, median_day_mg_l, room_g
from dosectl.model.feeds import Substance
from dosectl.model.reasons import Code, ReasonKind
from dosectl.model.signals import SignalKind
from dosectl.model.verdicts import Limit, Verdict
from dosectl.model.water_tests import Quantity, WaterTest

FIRST_SHARE = 0.6
FIRST_DAYS = 7.0
LATER_SHARE = 0.3
LEAST_USUAL_MG_L = 1.0  # as for the learned use
TEST_DAYS = 7.0  # how long a hand test says something of the water
LEAST_LOSS_A_DAY = 0.1  # of what is there: a cold or covered pool; as in the bound above
MOST_LOSS_A_DAY = 3.0
KEEPS_SHARE = 0.5  # of a loss found by tests: a dull week after a hot one
ARRIVES_LEAST = 0.7  # of what was booked: volume, output and strength are each wrong by some ten per cent
APART_S, APART_S_MAX = 2 * DAY_S, 15 * DAY_S  # two tests that show a loss
SAFE_SHARE = 0.8  # of the upper free-chlorine limit by the settings: room for errors of test, volume and strength
SURE = 2.0  # standard deviations of the test
SUFFIX = ".fallback"


def rate_mg_l_day(evidence: Evidence, first_share: float = FIRST_SHARE, later_share: float = LATER_SHARE) -> float:
    """Today's fall-back rate: a share of the median day, by how long it lasts already and what was tested [mg/L per day]."""
    # However little was used of late: a share of nothing would leave a pool dead without end.
    usual = max(LEAST_USUAL_MG_L, median_day_mg_l(evidence))
    since_s = evidence.standing.fallback_since_s
    most = most_by_tests(evidence)
    if most is not None and most < SAFE_SHARE:
        return RAISED_TIMES * usual if least_loss_a_day(evidence) > LEAST_LOSS_A_DAY else usual
    if most is not None and most >= 1.0:
        return later_share * usual
    later = since_s is not None and evidence.clock_s - since_s > FIRST_DAYS * DAY_S
    return (later_share if later else first_share) * usual


def most_by_tests(evidence: Evidence) -> float | None:
    """The most free chlorine there can be by hand tests and ledger, as a share of the upper limit; None without a young test."""
    test = _tested(evidence)
    if test is None:
        return None
    return most_there_mg_l(evidence, test) / upper_free_chlorine_limit_mg_l(evidence.site.pool.stabiliser_mg_l)


def most_there_mg_l(evidence: Evidence, test: WaterTest) -> float:
    """The most free chlorine there can be by now: the test with its error and all that was booked since, less the least loss."""
    age_s = evidence.clock_s - test.taken_s
    return _left(
        test.value + SURE * test.sigma, evidence.fed_mg_l(Substance.CHLORINE, age_s), least_loss_a_day(evidence) * age_s / DAY_S
    )


def least_loss_a_day(evidence: Evidence) -> float:
    """The least share of its chlorine that this pool may be losing in a day: half of what its last two tests and the ledger
    between them show, at least a tenth; a tenth under a closed cover."""
    cover = evidence.reading(SignalKind.COVER)
    if cover is not None and cover.switch() is True:
        return LEAST_LOSS_A_DAY
    tests = sorted((t for t in evidence.tests if t.quantity is Quantity.FREE_CHLORINE), key=lambda t: t.taken_s)
    if len(tests) < 2:
        return LEAST_LOSS_A_DAY
    after = tests[-1]
    before = next((t for t in reversed(tests) if after.taken_s - t.taken_s >= APART_S), None)
    if before is None or after.taken_s - before.taken_s > APART_S_MAX or not _known(evidence, before.taken_s):
        return LEAST_LOSS_A_DAY
    days = (after.taken_s - before.taken_s) / DAY_S
    begun_s, ended_s = evidence.clock_s - before.taken_s, evidence.clock_s - after.taken_s
    fed = evidence.fed_mg_l(Substance.CHLORINE, begun_s) - evidence.fed_mg_l(Substance.CHLORINE, ended_s)
    # All errors on the side of a small loss: less was there and less arrived, more is left.
    had, has = max(0.0, before.value - SURE * before.sigma), after.value + SURE * after.sigma
    low, high = 0.0, MOST_LOSS_A_DAY
    for _ in range(30):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if _left(had, ARRIVES_LEAST * fed, middle * days) > has else (low, middle)
    return max(LEAST_LOSS_A_DAY, KEEPS_SHARE * low)


def _known(evidence: Evidence, from_s: float) -> bool:
    """Whether the ledger still has every chlorine feed since then: a window that reaches further back counts too much."""
    return all(book.known_from_s <= from_s for book in evidence.ledger.feeders if book.substance is not Substance.ACID)


def _left(before_mg_l: float, fed_mg_l: float, loss: float) -> float:
    """What is left of what was there and of what was fed evenly since, at a loss of `loss` in all (ln)."""
    kept = exp(-loss)
    return before_mg_l * kept + fed_mg_l * ((1.0 - kept) / loss if loss > 1e-6 else 1.0)


def _tested(evidence: Evidence) -> WaterTest | None:
    """The newest hand test of free chlorine, where it is not too old; None without one, or with one from the future."""
    test = evidence.newest_test(Quantity.FREE_CHLORINE)
    return test if test is not None and 0.0 <= evidence.clock_s - test.taken_s <= TEST_DAYS * DAY_S else None


def fallback_limit(guard: Code, kind: ReasonKind, evidence: Evidence, since_s: float | None, signal: str) -> Limit:
    """At most the fall-back rate over any 24 h, of chlorine; `kind` takes the facts `signal` and
    `rate_mg_l_day`."""
    rate = rate_mg_l_day(evidence)
    why = kind.because(moment(evidence, since_s), signal=signal, rate_mg_l_day=round(rate, 2))
    return Limit(guard, room_g(evidence, Substance.CHLORINE, DAY_S, rate), why)


def is_fallback(verdict: Verdict) -> bool:
    """Whether a verdict holds chlorine at the fall-back rate."""
    return isinstance(verdict, Limit) and verdict.why.code.endswith(SUFFIX)
