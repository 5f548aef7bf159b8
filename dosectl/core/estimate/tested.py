"""What tests do to the estimate: each applied where it was taken, counted, and kept so that it can be withdrawn."""

from dataclasses import replace

from dosectl.core.estimate.chlorine import DAY_S, LIMITS, bloom_over
from dosectl.core.estimate.course import Course
from dosectl.core.estimate.drift import MOVED_MV, drift_after, misled_mv
from dosectl.core.estimate.electrode import forget_what_it_taught
from dosectl.core.estimate.filters import bounded, rows_of, triangle_of
from dosectl.core.estimate.hours_ph import after_late_test, with_changed
from dosectl.core.estimate.late_tests import LATE_S, confirmed, past_test, run_again
from dosectl.core.estimate.params import EstimateParams
from dosectl.core.estimate.ph_tests import with_ph_test
from dosectl.core.estimate.state import WATER_STATES, Estimate
from dosectl.core.estimate.taken_back import counted
from dosectl.core.estimate.thinning import fitted
from dosectl.core.estimate.water_tests import finds_chlorine, use_test, widened
from dosectl.core.estimate.withdrawn import without_test
from dosectl.model.water_tests import Quantity, WaterTest


def told(params: EstimateParams, est: Estimate, tests: tuple[WaterTest, ...], depth_share: float) -> Estimate:
    """The estimate after tests that are new, and such as are withdrawn.

    What is taken back comes first: the right figure may come in the same step, and would be undone with the slip.
    """
    gone = [test for test in tests if test.withdrawn]
    for test in gone:
        est = without_test(params, est, test, depth_share)
    for test in tests:
        if not test.withdrawn and all(test.request != other.request for other in gone):
            est = _remembering(params, est, test, depth_share)
    return est


def _counted(before: Estimate, after: Estimate, test: WaterTest, drift_mv_sqrt_day: float | None) -> Estimate:
    """`after` with a believed test counted as the newest of chlorine, where it is."""
    if not _newest(before, test):
        return after
    # A test that finds chlorine ends the doubt about dead water: from here on the electrode is judged again.
    dead_s = 0.0 if finds_chlorine(test) else after.dead_s
    tested_s = test.taken_s if after.tested_s is None else max(after.tested_s, test.taken_s)  # another may be believed by it
    return replace(after, tested_s=tested_s, drift_mv_sqrt_day=drift_mv_sqrt_day, dead_s=dead_s)


def _newest(est: Estimate, test: WaterTest) -> bool:
    return test.quantity is Quantity.FREE_CHLORINE and (est.tested_s is None or test.taken_s > est.tested_s)


def _died_since(after: Estimate, test: WaterTest) -> bool:
    """Whether the water died after a late test was taken: the hour that runs began dead in the run with the test, too."""
    hour = after.hour
    return hour is not None and test.taken_s <= hour.begins_s and hour.dead_s > 0.0


def _remembering(set_params: EstimateParams, est: Estimate, test: WaterTest, depth_share: float) -> Estimate:
    params = fitted(set_params, est)
    if test.quantity in WATER_STATES:
        return counted(est, _with_test(params, est, test, depth_share), test)
    after = with_ph_test(est, test)
    changes = after_late_test(after, test.request) if test.quantity is Quantity.PH else ()
    return with_changed(params, after, changes, depth_share)


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
    course = Course(params, est, test.taken_s, est.tested_s, est.drift_mv_sqrt_day)
    judge = course.judged if _newest(est, test) else None
    after = run_again(est, params, depth_share, (*others, test), test.taken_s, judge)
    if judge is not None and course.before.keys() - {test.request}:
        after = course.counted_in(after)  # others are believed by it
    if test.request in after.doubted:
        return after
    after = _counted(est, after, test, course.drift_mv_sqrt_day)
    return replace(after, dead_s=est.dead_s) if _died_since(after, test) else after
