"""What tests do to the estimate: each applied where it was taken, counted, kept so that it can be taken back, or taken back."""

from dataclasses import replace

from dosectl.core.estimate.chlorine import DAY_S, LIMITS, bloom_over
from dosectl.core.estimate.drift import MOVED_MV, drift_after, misled_mv
from dosectl.core.estimate.electrode import forget_what_it_taught
from dosectl.core.estimate.filters import Rows, bounded, rows_of, triangle_of
from dosectl.core.estimate.late_tests import LATE_S, confirmed, past_test, run_again
from dosectl.core.estimate.params import EstimateParams
from dosectl.core.estimate.ph_tests import with_ph_test, without_ph_test
from dosectl.core.estimate.state import WATER_STATES, Estimate
from dosectl.core.estimate.taken_back import counted, without_old_stabiliser
from dosectl.core.estimate.thinning import fitted
from dosectl.core.estimate.water_tests import finds_chlorine, use_test, widened
from dosectl.model.water_tests import Quantity, WaterTest


def told(params: EstimateParams, est: Estimate, tests: tuple[WaterTest, ...], depth_share: float) -> Estimate:
    """The estimate after tests that are new, and such as are withdrawn.

    What is taken back comes first: the right figure may come in the same step, and would be undone with the slip.
    """
    gone = [test for test in tests if test.withdrawn]
    for test in gone:
        est = _without_test(params, est, test, depth_share)
    for test in tests:
        if not test.withdrawn and all(test.request != other.request for other in gone):
            est = _remembering(fitted(params, est), est, test, depth_share)
    return est


def _counted(before: Estimate, after: Estimate, test: WaterTest, drift_mv_sqrt_day: float | None) -> Estimate:
    """`after` with a believed test counted as the newest of chlorine, where it is."""
    if not _newest(before, test):
        return after
    # A test that finds chlorine ends the doubt about dead water: from here on the electrode is judged again.
    dead_s = 0.0 if finds_chlorine(test) else after.dead_s
    return replace(after, tested_s=test.taken_s, drift_mv_sqrt_day=drift_mv_sqrt_day, dead_s=dead_s)


def _newest(est: Estimate, test: WaterTest) -> bool:
    return test.quantity is Quantity.FREE_CHLORINE and (est.tested_s is None or test.taken_s > est.tested_s)


def _died_since(after: Estimate, test: WaterTest) -> bool:
    """Whether the water died after a late test was taken: the hour that runs began dead in the run with the test, too."""
    hour = after.hour
    return hour is not None and test.taken_s <= hour.begins_s and hour.dead_s > 0.0


def _remembering(params: EstimateParams, est: Estimate, test: WaterTest, depth_share: float) -> Estimate:
    if test.quantity in WATER_STATES:
        return counted(est, _with_test(params, est, test, depth_share), test)
    return with_ph_test(est, test)


def _without_test(params: EstimateParams, est: Estimate, test: WaterTest, depth_share: float) -> Estimate:
    """One test taken back: left out of a new run of the stored hours, else its step undone.

    Of chlorine of more than a fortnight ago nothing is taken back: the tests since have said what there is.
    """
    others = tuple(t for t in est.tests if t.request != test.request)
    if len(others) == len(est.tests):
        return without_old_stabiliser(params, without_ph_test(est, test), test, depth_share)
    est = replace(_learnt_before(est, test), tests=others)
    est = run_again(est, fitted(params, est), depth_share, others, test.taken_s)
    return replace(est, tested_s=_last_tested_s(est, test)) if test.quantity is Quantity.FREE_CHLORINE else est


def _learnt_before(est: Estimate, gone: WaterTest) -> Estimate:
    """The record of what tests counted without one. A drift that it taught is forgotten, with what later ones made of that; so is
    what it ended of dead water, where none came later."""
    at = next((i for i, t in enumerate(est.taught) if t.request == gone.request), None)
    if at is None:
        return est
    found, later = est.taught[at], est.taught[at + 1 :]
    est = replace(est, taught=(*est.taught[:at], *later))
    if found.counted is None:
        return est
    _, drift, dead_s = found.counted
    after = next((t.counted for t in later if t.counted is not None), None)
    if after is None:
        return replace(est, drift_mv_sqrt_day=drift, dead_s=max(dead_s, est.dead_s))
    if after[1] == drift:
        return est
    later = tuple(t if t.counted is None else replace(t, counted=(t.counted[0], drift, t.counted[2])) for t in later)
    return replace(est, drift_mv_sqrt_day=drift, taught=(*est.taught[:at], *later))


def _last_tested_s(est: Estimate, gone: WaterTest) -> float | None:
    """When the newest test of chlorine that is believed was taken; what a withdrawn one made believed counts no more."""
    believed = [t.taken_s for t in est.tests if t.quantity is Quantity.FREE_CHLORINE and t.request not in est.doubted]
    if believed:
        return max(believed)
    oldest_s = min([hour.begins_s for hour in (*est.history, *([est.hour] if est.hour else []))], default=float("inf"))
    known = [t.counted[0] for t in est.taught if t.counted is not None]
    older = [at_s for at_s in (est.tested_s, *known) if at_s is not None and at_s < oldest_s and at_s != gone.taken_s]
    return max(older, default=None)


def _with_test(params: EstimateParams, est: Estimate, test: WaterTest, depth_share: float) -> Estimate:
    """One test of chlorine or stabiliser, entered just now."""
    assert est.updated_s is not None
    others = tuple(t for t in est.tests if t.request != test.request)
    if est.hour is not None and past_test(est, test):
        return _with_late(params, est, test, depth_share, others)
    age_s = max(0.0, est.updated_s - test.taken_s)
    mean, p = list(est.mean), rows_of(est.cov)
    used = widened(test, age_s / DAY_S) if age_s > LATE_S else test  # late, and no hours are stored that could be run again
    if not use_test(mean, p, used, confirmed(est, test)):
        # a slip of the hand teaches nothing of the electrode, nor does it count as a test
        bounded(mean, p, LIMITS)
        doubted = (*est.doubted, test.request)
        return replace(est, mean=tuple(mean), cov=triangle_of(p), tests=(*others, test), doubted=doubted)
    if test.quantity is Quantity.FREE_CHLORINE and misled_mv(est, test) >= MOVED_MV:
        forget_what_it_taught(mean, p, params)
    if est.dead_s > 0.0 and finds_chlorine(test):
        bloom_over(mean, p, params)
    bounded(mean, p, LIMITS)
    after = replace(est, mean=tuple(mean), cov=triangle_of(p), tests=(*others, test))
    return _counted(est, after, test, drift_after(params, est, test))


def _with_late(
    params: EstimateParams, est: Estimate, test: WaterTest, depth_share: float, others: tuple[WaterTest, ...]
) -> Estimate:
    """A test of water of before: applied there, and the hours since run again. The newest shows of the electrode what one that
    was typed at once would have shown: a walk and a cup of coffee must not decide whether a dead one is found out."""
    drift = est.drift_mv_sqrt_day

    def judged(mean: list[float], p: Rows, seen_s: float | None) -> None:
        nonlocal drift
        drift = drift_after(params, replace(est, mean=tuple(mean), cov=triangle_of(p), orp_seen_s=seen_s), test)

    new = (test.request, judged) if _newest(est, test) else None
    after = run_again(est, params, depth_share, (*others, test), test.taken_s, new)
    if test.request in after.doubted:
        return after
    after = _counted(est, after, test, drift)
    return replace(after, dead_s=est.dead_s) if _died_since(after, test) else after
