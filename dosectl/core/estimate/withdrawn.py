"""A test that is withdrawn: the estimate as if it had never been.

One that lies in the stored hours is left out of a new run of those. Of older ones, and of pH and alkalinity, which stand beside
the hours, what each changed is kept (`taken_back`, `ph_tests`).
"""

from dataclasses import replace

from dosectl.core.estimate.begin import untaught
from dosectl.core.estimate.chlorine import cya_of
from dosectl.core.estimate.course import Course
from dosectl.core.estimate.everywhere import everywhere
from dosectl.core.estimate.filters import Rows
from dosectl.core.estimate.hours_ph import after_withdrawal, with_changed
from dosectl.core.estimate.late_tests import run_again
from dosectl.core.estimate.params import EstimateParams
from dosectl.core.estimate.ph_tests import without_ph_test
from dosectl.core.estimate.state import CHLORINE, DEMAND, DRIFT, EFFECT, OFFSET, SLOPE, SUN, Estimate
from dosectl.core.estimate.taken_back import without_old_stabiliser
from dosectl.core.estimate.thinning import fitted
from dosectl.model.water_tests import Quantity, WaterTest

BY_CHLORINE_TESTS = (CHLORINE, DEMAND, SUN, OFFSET, SLOPE, DRIFT, EFFECT)
"""States that nothing but tests of chlorine can tell, at last."""


def without_test(set_params: EstimateParams, est: Estimate, test: WaterTest, depth_share: float) -> Estimate:
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
    return with_changed(params, after, after_withdrawal(est, after, test.request), depth_share)


def _without_chlorine(
    set_params: EstimateParams, est: Estimate, test: WaterTest, depth_share: float, others: tuple[WaterTest, ...]
) -> Estimate:
    """A test of chlorine left out of a new run, in which all that were typed after it show anew how the electrode drifts. What it
    ended of dead water goes on, where none is believed after it. One that was doubted changes none of that, unless others are
    believed, or doubted, without it."""
    at = next((i for i, t in enumerate(est.taught) if t.request == test.request), len(est.taught))
    found = est.taught[at].counted if at < len(est.taught) else None
    later = next((t.counted for t in est.taught[at + 1 :] if t.counted is not None), None)
    since = {t.request for t in est.taught[at:]}
    from_s = min([test.taken_s, *(t.taken_s for t in others if t.request in since and t.quantity is Quantity.FREE_CHLORINE)])
    begun = replace(est, taught=(*est.taught[:at], *est.taught[at + 1 :]))
    known_s = est.tested_s if est.tested_s is not None and est.tested_s < from_s else None
    tested_s, drift, _ = found or later or (known_s, est.drift_mv_sqrt_day, 0.0)
    course = Course(set_params, begun, from_s, tested_s, drift)
    begun = replace(begun, drift_mv_sqrt_day=drift)
    after = run_again(begun, fitted(set_params, begun), depth_share, others, from_s, course.judged)
    if found is None and set(after.doubted) == set(est.doubted) - {test.request}:
        begun = replace(begun, drift_mv_sqrt_day=est.drift_mv_sqrt_day)
        return run_again(begun, fitted(set_params, begun), depth_share, others, test.taken_s)
    if found is not None and not course.before:
        after = replace(after, dead_s=max(found[2], after.dead_s))
    after = course.counted_in(after)
    return replace(after, tested_s=_last_tested_s(after, test))


def _without_old_chlorine(params: EstimateParams, est: Estimate, test: WaterTest) -> Estimate:
    """Without a test of chlorine that the stored hours no longer hold. Where one was believed since, that one has said what there
    is; else nothing is left by which chlorine, losses and electrode could be known, and no more is believed of them."""
    counted_as = next((t.counted for t in est.taught if t.request == test.request), None)
    est = replace(est, taught=tuple(t for t in est.taught if t.request != test.request))
    if counted_as is None or (est.tested_s is not None and est.tested_s > test.taken_s):
        return est
    fresh, doubt = untaught(params, cya_of(est.mean), True)

    def unknown(mean: list[float], p: Rows) -> None:
        for state in BY_CHLORINE_TESTS:
            for other in range(len(p)):
                p[state][other] = p[other][state] = 0.0
            mean[state], p[state][state] = fresh[state], doubt[state][state]

    est = everywhere(est, unknown)
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
