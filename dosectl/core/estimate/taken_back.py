"""What each test of pH or alkalinity taught, kept so that it can be taken back when it turns out to have been a slip.

A withdrawn test of chlorine or stabiliser is left out of a new run of the stored hours (`late_tests`). pH and alkalinity stand
beside those: the step is taken off again and the doubt that it removed comes back (of a Kalman update that is the outer product
of gain and root of S, see `filters.correct`). Another test that follows is applied to the estimate that never had this one, too,
so that what is left of its step is known.
"""

from collections.abc import Callable
from dataclasses import replace
from math import copysign, sqrt

from dosectl.core.estimate.state import Estimate, Taught
from dosectl.model.water_tests import Quantity, WaterTest

KEPT = 48  # three a day for the fortnight of the stored hours
PH, PH_OFFSET, ALKALINITY = range(3)
_VAR_MOST = (1.0, 0.25, 2500.0)  # of pH, of its probe's offset, of the alkalinity; as in `ph` and `filter`
Steps = tuple[float, ...]


def counted(before: Estimate, after: Estimate, test: WaterTest) -> Estimate:
    """`after` with what a test of chlorine or stabiliser counted as kept."""
    was = (before.tested_s, before.drift_mv_sqrt_day, before.dead_s) if test.quantity is Quantity.FREE_CHLORINE else None
    return _with(after, Taught(test.request, test.quantity, (), (), was))


def remembered(before: Estimate, after: Estimate, test: WaterTest, applied: Callable[[Estimate], Estimate]) -> Estimate:
    """`after` with what this test of pH or alkalinity changed kept; and of each earlier one, what is left of that.

    applied : this test applied to another estimate. So a slip that was answered by a good test before it is withdrawn has little
        left to take back, or much where it made the good one doubted.
    """
    left = [_left(t, before, after, applied) if t.quantity is test.quantity else t for t in after.taught]
    return _with(replace(after, taught=tuple(left)), Taught(test.request, test.quantity, *_steps(before, after), None))


def _with(est: Estimate, taught: Taught) -> Estimate:
    return replace(est, taught=(*(t for t in est.taught if t.request != taught.request), taught)[-KEPT:])


def _left(taught: Taught, before: Estimate, after: Estimate, applied: Callable[[Estimate], Estimate]) -> Taught:
    """What an earlier test still changes: the estimate beside the one that never had it."""
    by, freed = _steps(applied(_undone(before, taught)), after)
    return replace(taught, by=by, freed=freed)


def _steps(before: Estimate, after: Estimate) -> tuple[Steps, Steps]:
    by = tuple(new - old for old, new in zip(_values(before), _values(after), strict=True))
    freed = tuple(
        copysign(sqrt(max(0.0, old - new)), step) for old, new, step in zip(_vars(before), _vars(after), by, strict=True)
    )
    return by, freed


def without_ph_probe(est: Estimate) -> tuple[Taught, ...]:
    """What the tests taught, but for what they taught of a pH probe that is gone."""
    return tuple(replace(t, by=_of_alkalinity(t.by), freed=_of_alkalinity(t.freed)) for t in est.taught)


def _of_alkalinity(values: Steps) -> Steps:
    return (0.0, 0.0, values[-1]) if values else ()


def undone(est: Estimate, test: WaterTest) -> Estimate:
    """The estimate without the step of a withdrawn test of pH or alkalinity; unchanged where none is kept of it."""
    found = next((t for t in est.taught if t.request == test.request), None)
    if found is None:
        return est
    return _undone(replace(est, taught=tuple(t for t in est.taught if t is not found)), found)


def _undone(est: Estimate, found: Taught) -> Estimate:
    by, freed = found.by[-3:], found.freed[-3:]  # an older record has the nine states before these
    if not by:
        return est
    value, offset, var, both, offset_var = est.ph
    var, both = var + freed[PH] ** 2, both + freed[PH] * freed[PH_OFFSET]
    sums = (var, offset_var + freed[PH_OFFSET] ** 2, est.alkalinity_var + freed[ALKALINITY] ** 2)
    var, offset_var, alkalinity_var = (min(v, most) for v, most in zip(sums, _VAR_MOST, strict=True))
    both = copysign(min(abs(both), 0.99 * sqrt(var * offset_var)), both)
    return replace(
        est,
        ph=(value - by[PH], offset - by[PH_OFFSET], var, both, offset_var),
        alkalinity_mg_l=max(10.0, est.alkalinity_mg_l - by[ALKALINITY]),
        alkalinity_var=alkalinity_var,
    )


def _values(est: Estimate) -> Steps:
    return (est.ph[0], est.ph[1], est.alkalinity_mg_l)


def _vars(est: Estimate) -> Steps:
    return (est.ph[2], est.ph[4], est.alkalinity_var)
