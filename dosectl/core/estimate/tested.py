"""What tests do to the estimate: each applied where it was taken, counted, kept so that it can be taken back, or taken back."""

from dataclasses import replace

from dosectl.core.estimate.begin import untaught
from dosectl.core.estimate.chlorine import DAY_S, LIMITS, bloom_over, cya_of
from dosectl.core.estimate.course import Course
from dosectl.core.estimate.drift import MOVED_MV, drift_after, misled_mv
from dosectl.core.estimate.electrode import forget_what_it_taught
from dosectl.core.estimate.everywhere import everywhere
from dosectl.core.estimate.filters import Rows, bounded, rows_of, triangle_of
from dosectl.core.estimate.hours_ph import after_late_test, after_withdrawal, with_shifted
from dosectl.core.estimate.late_tests import LATE_S, confirmed, past_test, run_again
from dosectl.core.estimate.params import EstimateParams
from dosectl.core.estimate.ph_tests import with_ph_test, without_ph_test
from dosectl.core.estimate.state import CHLORINE, DEMAND, DRIFT, EFFECT, OFFSET, SLOPE, SUN, WATER_STATES, Estimate, Taught
from dosectl.core.estimate.taken_back import counted, without_old_stabiliser
from dosectl.core.estimate.thinning import fitted
from dosectl.core.estimate.water_tests import finds_chlorine, use_test, widened
from dosectl.model.water_tests import Quantity, WaterTest

BY_CHLORINE_TESTS = (CHLORINE, DEMAND, SUN, OFFSET, SLOPE, DRIFT, EFFECT)
"""States that nothing but tests of chlorine can tell, at last."""


def told(params: EstimateParams, est: Estimate, tests: tuple[WaterTest, ...], depth_share: float) -> Estimate:
    """The estimate after tests that are new, and such as are withdrawn.

    What is taken back comes first: the right figure may come in the same step, and would be undone with the slip.
    """
    gone = [test for test in tests if test.withdrawn]
    for test in gone:
        est = _without_test(params, est, test, depth_share)
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
    return replace(after, tested_s=test.taken_s, drift_mv_sqrt_day=drift_mv_sqrt_day, dead_s=dead_s)


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
    if test.quantity is Quantity.PH and est.updated_s is not None and est.updated_s - test.taken_s > LATE_S:
        return with_shifted(params, after, after_late_test(est, after, test.taken_s), depth_share)
    return after


def _without_test(set_params: EstimateParams, est: Estimate, test: WaterTest, depth_share: float) -> Estimate:
    """One test taken back: left out of a new run of the stored hours, else its step undone."""
    params = fitted(set_params, est)
    others = tuple(t for t in est.tests if t.request != test.request)
    if len(others) < len(est.tests):
        if test.quantity is Quantity.FREE_CHLORINE:
            return _without_chlorine(set_params, est, test, depth_share, others)
        taught = tuple(t for t in est.taught if t.request != test.request)
        return run_again(replace(est, taught=taught), params, depth_share, others, test.taken_s)
    if test.quantity is Quantity.FREE_CHLORINE:
        return _without_old_chlorine(params, est, test)
    if test.quantity is Quantity.STABILISER:
        return without_old_stabiliser(params, est, test, depth_share)
    after = without_ph_test(est, test)
    return with_shifted(params, after, after_withdrawal(est, after, test.request), depth_share)


def _without_chlorine(
    set_params: EstimateParams, est: Estimate, test: WaterTest, depth_share: float, others: tuple[WaterTest, ...]
) -> Estimate:
    """A test of chlorine left out of a new run, in which those after it show anew how the electrode drifts. What it ended of dead
    water goes on, where none came later. One that was doubted changes none of that, unless others are believed without it."""
    at = next((i for i, t in enumerate(est.taught) if t.request == test.request), len(est.taught))
    found = est.taught[at].counted if at < len(est.taught) else None
    later = next((t.counted for t in est.taught[at + 1 :] if t.counted is not None), None)
    begun = replace(est, taught=(*est.taught[:at], *est.taught[at + 1 :]))
    if found is not None and later is None:
        begun = replace(begun, dead_s=max(found[2], est.dead_s))
    tested_s, drift, _ = found or later or (est.tested_s, est.drift_mv_sqrt_day, 0.0)
    course = Course(set_params, begun, test.taken_s, tested_s, drift)
    begun = replace(begun, drift_mv_sqrt_day=drift)
    after = run_again(begun, fitted(set_params, begun), depth_share, others, test.taken_s, course.judged)
    if found is None and set(after.doubted) == set(est.doubted) - {test.request}:
        begun = replace(begun, drift_mv_sqrt_day=est.drift_mv_sqrt_day)
        after = run_again(begun, fitted(set_params, begun), depth_share, others, test.taken_s)
        return replace(after, tested_s=_last_tested_s(after, test))
    taught = tuple(_recounted(t, course, after) for t in after.taught)
    after = replace(after, drift_mv_sqrt_day=course.drift_mv_sqrt_day, taught=taught)
    return replace(after, tested_s=_last_tested_s(after, test))


def _recounted(taught: Taught, course: Course, after: Estimate) -> Taught:
    """What a test found before it in the new run, where it is believed there; one that no longer is counts no more."""
    found = course.before.get(taught.request)
    if found is not None:
        return replace(taught, counted=(*found, after.dead_s if taught.counted is None else taught.counted[2]))
    return replace(taught, counted=None) if taught.request in after.doubted else taught


def _without_old_chlorine(params: EstimateParams, est: Estimate, test: WaterTest) -> Estimate:
    """Without a test of chlorine that the stored hours no longer hold. Where one was believed since, that one has said what there
    is; else nothing is left by which chlorine, losses and electrode could be known, and no more is believed of them."""
    counted_as = next((t.counted for t in est.taught if t.request == test.request), None)
    if counted_as is None or (est.tested_s is not None and est.tested_s > test.taken_s):
        return replace(est, taught=tuple(t for t in est.taught if t.request != test.request))

    fresh, doubt = untaught(params, cya_of(est.mean), True)

    def unknown(mean: list[float], p: Rows) -> None:
        for state in BY_CHLORINE_TESTS:
            for other in range(len(p)):
                p[state][other] = p[other][state] = 0.0
            mean[state], p[state][state] = fresh[state], doubt[state][state]

    est = everywhere(replace(est, taught=tuple(t for t in est.taught if t.request != test.request)), unknown)
    return replace(est, tested_s=_last_tested_s(est, test), drift_mv_sqrt_day=None)


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
    course = Course(params, est, test.taken_s, est.tested_s, est.drift_mv_sqrt_day)
    judge = course.judged if _newest(est, test) else None
    after = run_again(est, params, depth_share, (*others, test), test.taken_s, judge)
    if test.request in after.doubted:
        return after
    after = _counted(est, after, test, course.drift_mv_sqrt_day)
    return replace(after, dead_s=est.dead_s) if _died_since(after, test) else after
