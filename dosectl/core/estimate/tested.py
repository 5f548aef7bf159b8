"""What tests do to the estimate: each applied where it was taken, counted, kept so that it can be taken back, or taken back."""

from dataclasses import replace

from dosectl.core.estimate import ph as acidity
from dosectl.core.estimate.chlorine import DAY_S, LIMITS, bloom_over
from dosectl.core.estimate.drift import MOVED_MV, drift_after, misled_mv
from dosectl.core.estimate.electrode import forget_what_it_taught
from dosectl.core.estimate.filters import bounded, rows_of, triangle_of
from dosectl.core.estimate.late_tests import LATE_S, confirmed, past_test, run_again
from dosectl.core.estimate.params import EstimateParams
from dosectl.core.estimate.since import alkalinity_of_now, ph_of_now
from dosectl.core.estimate.state import WATER_STATES, Estimate
from dosectl.core.estimate.taken_back import counted, remembered, undone
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
    if test.quantity is not Quantity.FREE_CHLORINE or (before.tested_s is not None and test.taken_s <= before.tested_s):
        return after
    # A test that finds chlorine ends the doubt about dead water: from here on the electrode is judged again.
    dead_s = 0.0 if finds_chlorine(test) else after.dead_s
    return replace(after, tested_s=test.taken_s, drift_mv_sqrt_day=drift_mv_sqrt_day, dead_s=dead_s)


def _remembering(params: EstimateParams, est: Estimate, test: WaterTest, depth_share: float) -> Estimate:
    after = _with_test(params, est, test, depth_share)
    if test.quantity in WATER_STATES:
        return counted(est, after, test)
    return remembered(est, after, test, lambda other: _with_test(params, other, test, depth_share))


def _without_test(params: EstimateParams, est: Estimate, test: WaterTest, depth_share: float) -> Estimate:
    """One test taken back: left out of a new run of the stored hours, else its step undone.

    Of chlorine or stabiliser of more than a fortnight ago nothing is taken back: the tests since have said what there is.
    """
    others = tuple(t for t in est.tests if t.request != test.request)
    if len(others) == len(est.tests):
        return undone(est, test)
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
    """One test, entered just now."""
    assert est.updated_s is not None
    age_s = max(0.0, est.updated_s - test.taken_s)
    if test.quantity in WATER_STATES:
        others = tuple(t for t in est.tests if t.request != test.request)
        if est.hour is not None and past_test(est, test):
            after = run_again(est, params, depth_share, (*others, test), test.taken_s)
            return after if test.request in after.doubted else _counted(est, after, test, est.drift_mv_sqrt_day)
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
    if test.quantity is Quantity.PH:
        ph, believed = acidity.use_test(est.ph, ph_of_now(est, test), age_s / DAY_S)
        est = replace(est, ph=ph)
    elif test.quantity is Quantity.ALKALINITY:
        now = alkalinity_of_now(est, test)
        value, var, believed = acidity.use_alkalinity(est.alkalinity_mg_l, est.alkalinity_var, now, age_s / DAY_S)
        est = replace(est, alkalinity_mg_l=value, alkalinity_var=var)
    else:
        return est
    return est if believed else replace(est, doubted=(*est.doubted, test.request))
