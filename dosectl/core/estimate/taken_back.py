"""What each test changed beside the stored hours, kept so that it can be taken back when it turns out to have been a slip.

A withdrawn test of chlorine or stabiliser is left out of a new run of the stored hours (`late_tests`), and what it counted as is
restored from here. Chlorine of more than those hours ago is another water's. Stabiliser is tested once a month: of a test that
the hours no longer hold what later tests have left of its step is taken off, and its doubt comes back. pH and alkalinity
keep their steps here too, see `ph_tests`.
"""

from dataclasses import replace
from math import log, sqrt

from dosectl.core.estimate.chlorine import LIMITS
from dosectl.core.estimate.filters import bounded, rows_of, triangle_of, var_of
from dosectl.core.estimate.state import STABILISER, Estimate, Taught
from dosectl.core.estimate.water_tests import state_of
from dosectl.model.water_tests import Quantity, WaterTest

KEPT = 48  # three a day for the fortnight of the stored hours
STABILISER_KEPT = 6  # older ones of stabiliser, tested monthly
TELLING_LOG = 0.05  # of a test from what was believed: more tells what the test weighed


def keeping(est: Estimate, taught: Taught) -> Estimate:
    """The estimate with what a test changed kept as the newest."""
    kept = (*(t for t in est.taught if t.request != taught.request), taught)
    older = [t for t in kept[:-KEPT] if t.quantity is Quantity.STABILISER][-STABILISER_KEPT:]
    return replace(est, taught=(*older, *kept[-KEPT:]))


def counted(before: Estimate, after: Estimate, test: WaterTest) -> Estimate:
    """`after` with what a test of chlorine or stabiliser changed kept."""
    if test.quantity is Quantity.FREE_CHLORINE:
        believed = after.tested_s != before.tested_s
        was = (before.tested_s, before.drift_mv_sqrt_day, before.dead_s) if believed else None
        return keeping(after, Taught(test.request, test.quantity, (), (), was))
    had, has = var_of(before.cov, STABILISER), var_of(after.cov, STABILISER)
    left = _left(before, after, test)
    earlier = tuple(
        replace(t, by=tuple(left * v for v in t.by), freed=tuple(left * v for v in t.freed))
        if t.quantity is Quantity.STABILISER and t.request != test.request
        else t
        for t in after.taught
    )
    step = after.mean[STABILISER] - before.mean[STABILISER]
    taught = Taught(test.request, test.quantity, (step,), (sqrt(max(0.0, had - has)),), None)
    return keeping(replace(after, taught=earlier), taught)


def _left(before: Estimate, after: Estimate, test: WaterTest) -> float:
    """Of what was believed before a test of stabiliser, and so of the earlier steps in it, what is left after it."""
    state, shift = state_of(test.quantity)
    missed = log(test.value + shift) - before.mean[state]
    if abs(missed) > TELLING_LOG:  # by its doubt alone it can't be told: the model may have given way
        share = 1.0 - (after.mean[state] - before.mean[state]) / missed
    else:
        share = var_of(after.cov, state) / var_of(before.cov, state)
    return min(1.0, max(0.0, share))


def without_old_stabiliser(est: Estimate, test: WaterTest) -> Estimate:
    """The estimate without a test of stabiliser that the stored hours no longer hold; unchanged where nothing is kept of it.

    What hangs on the stabiliser goes with it as far as their errors hang together: the electrode's offset was learnt from
    chlorine tests beside the slip.
    """
    found = next((t for t in est.taught if t.request == test.request and t.quantity is Quantity.STABILISER), None)
    if found is None:
        return est
    est = replace(est, taught=tuple(t for t in est.taught if t is not found))
    if not found.by:
        return est
    at = STABILISER if len(found.by) > 1 else 0  # an older record has all nine states
    mean, p = list(est.mean), rows_of(est.cov)
    along = [row / p[STABILISER][STABILISER] for row in p[STABILISER]]
    for i, share in enumerate(along):
        mean[i] -= share * found.by[at]
        for j, other in enumerate(along):
            p[i][j] += share * other * found.freed[at] ** 2
    bounded(mean, p, LIMITS)
    return replace(est, mean=tuple(mean), cov=triangle_of(p))


def without_ph_probe(est: Estimate) -> tuple[Taught, ...]:
    """What the tests taught, but for what they taught of a pH probe that is gone: they are no tests of the new one."""
    return tuple(
        replace(t, by=(0.0,) * len(t.by), freed=(0.0,) * len(t.by), said=None) if t.quantity is Quantity.PH else t
        for t in est.taught
    )


def without_electrode(est: Estimate) -> tuple[Taught, ...]:
    """What the tests taught, but for the drift of a redox electrode that is gone."""
    return tuple(t if t.counted is None else replace(t, counted=(t.counted[0], None, t.counted[2])) for t in est.taught)
