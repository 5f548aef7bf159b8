"""What hand tests and the ledger show together, without the electrode: how much chlorine there can be at most.

A test is raw evidence, and so is what was booked since; all that is not known is how fast the pool loses it. Two tests and what
was booked between them show that, with every error on the side of a small loss, and half of it is kept as the least. What
was put in by hand and entered is not booked: until the next tests it leaves nothing shown. What it costs: a loss that falls far
below half of what it was in the week between two tests.

A test that the ORP beside it contradicts, or does not bear out (`contradiction`), shows nothing to be safe.
"""

from math import exp

from dosectl.chemistry.chlorine import upper_free_chlorine_limit_mg_l
from dosectl.core.evidence import Evidence
from dosectl.core.interlocks.contradiction import judged
from dosectl.core.interlocks.usage import DAY_S
from dosectl.model.feeds import Substance
from dosectl.model.signals import SignalKind
from dosectl.model.water_tests import WaterTest

TEST_DAYS = 7.0  # how long a hand test says something of the water
LEAST_LOSS_A_DAY = 0.1  # of what is there: a cold or covered pool; as in the bound above
MOST_LOSS_A_DAY = 3.0
KEEPS_SHARE = 0.5  # of a loss found by tests: a dull week after a hot one
ARRIVES_LEAST = 0.7  # of what was booked: volume, output and strength are each wrong by some ten per cent
APART_S = 2 * DAY_S  # two tests that show a loss
APART_S_MAX = 15 * DAY_S
SAFE_SHARE = 0.8  # of the upper free-chlorine limit by the settings: room for errors of test, volume and strength
SURE = 2.0  # standard deviations of the test


def shown_to_lose(evidence: Evidence) -> bool:
    """As `shown_safe`, where two hand tests and the ledger show a loss beyond the least: that holds for days."""
    return least_loss_a_day(evidence) > LEAST_LOSS_A_DAY and shown_safe(evidence)


def shown_safe(evidence: Evidence) -> bool:
    """Whether a young hand test and the ledger leave no room for too much, whatever the electrode says.

    One test is enough: with nothing known of the loss the least of all is taken, and what was fed soon passes the limit.
    """
    most = most_by_tests(evidence)
    return most is not None and most < SAFE_SHARE and judged(evidence).opens(evidence.clock_s)


def safe_test(evidence: Evidence) -> WaterTest | None:
    """The newest hand test of free chlorine, where with what was fed since it leaves no room for too much (`shown_safe`).

    Only such a test speaks for an electrode in doubt: while any test cleared the trips of a stuck one, a pool that loses a tenth
    a day rose to 17 mg/L when it was tested each third day, and only to 8 untested.
    """
    return _tested(evidence) if shown_safe(evidence) else None


def most_by_tests(evidence: Evidence) -> float | None:
    """The most free chlorine there can be by hand tests and ledger, as a share of the upper limit; None without a young test."""
    most = most_mg_l(evidence)
    return None if most is None else most / upper_free_chlorine_limit_mg_l(evidence.site.pool.stabiliser_mg_l)


def most_mg_l(evidence: Evidence) -> float | None:
    """The most free chlorine there can be by hand tests and ledger [mg/L]; None without a young test."""
    test = _tested(evidence)
    return None if test is None else most_there_mg_l(evidence, test)


def most_there_mg_l(evidence: Evidence, test: WaterTest) -> float:
    """The most free chlorine there can be by now: the test with its error and all that was booked since, less the least loss."""
    age_s = evidence.clock_s - test.taken_s
    return _left(
        test.value + SURE * test.sigma, evidence.fed_mg_l(Substance.CHLORINE, age_s), least_loss_a_day(evidence) * age_s / DAY_S
    )


def least_loss_a_day(evidence: Evidence) -> float:
    """The least share of its chlorine that this pool may be losing in a day: half of what its last two tests and the ledger
    between them show, at least a tenth; a tenth under a closed cover, or one of which nothing is known."""
    cover = evidence.reading(SignalKind.COVER)
    if evidence.site.pool.covered if cover is None else cover.switch() is not False:  # what is not known may be closed
        return LEAST_LOSS_A_DAY
    found = judged(evidence)
    tests = found.accepted
    if len(tests) < 2 or not found.opens(evidence.clock_s):
        return LEAST_LOSS_A_DAY
    after = tests[-1]
    before = next((t for t in reversed(tests) if after.taken_s - t.taken_s >= APART_S), None)
    if before is None or after.taken_s - before.taken_s > APART_S_MAX or not _known(evidence, before.taken_s):
        return LEAST_LOSS_A_DAY
    if _added_after(evidence, before.taken_s):  # a neutraliser would look like a loss
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
    """The newest hand test of free chlorine that nothing contradicts, where it is not too old; None without one, with one from
    the future, or where something was put in by hand since: that is not booked, and the test knows nothing of it."""
    test = next(reversed(judged(evidence).accepted), None)
    if test is None or not 0.0 <= evidence.clock_s - test.taken_s <= TEST_DAYS * DAY_S:
        return None
    return None if _added_after(evidence, test.taken_s) else test


def _added_after(evidence: Evidence, at_s: float) -> bool:
    added_s = evidence.standing.added_s
    return added_s is not None and added_s > at_s
