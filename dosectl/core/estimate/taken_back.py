"""What each test taught, kept so that the test can be taken back when it turns out to have been a slip.

Within the stored hours a withdrawn test of chlorine or stabiliser is left out of a new run (`late_tests`). What is older, or
of pH or alkalinity, or from before a probe was renewed, is undone here: its step is taken off again and the doubt that it removed
comes back (of a Kalman update that is the outer product of gain and root of S, see `filters.correct`). Another test that follows
is applied to the estimate that never had this one, too, so that what is left of its step is known; one that is typed in late
can't be, and was weighed against a wrong estimate: then the step itself is added to the doubt. The chlorine of then is gone,
but each reading since was taken for an electrode that reads as much too high as the test was too low: nobody can say how much of
that was learnt, so it comes back as doubt of both at once, which only the next test ends.
"""

from collections.abc import Callable
from dataclasses import replace
from math import copysign, exp, hypot, log, sqrt

from dosectl.core.estimate.chlorine import DAY_S, LIMITS
from dosectl.core.estimate.filters import SIZE, bounded, rows_of, triangle_of, var_of
from dosectl.core.estimate.late_tests import unsettled_with
from dosectl.core.estimate.state import CHLORINE, DRIFT, OFFSET, SLOPE, Estimate, Taught
from dosectl.model.signals import SignalKind
from dosectl.model.water_tests import Quantity, WaterTest

KEPT = 16
PH, PH_OFFSET, ALKALINITY = SIZE, SIZE + 1, SIZE + 2  # places after the nine states
OF_PROBE = {SignalKind.ORP: (OFFSET, SLOPE, DRIFT), SignalKind.PH: (PH, PH_OFFSET)}
STAYS_S = DAY_S  # a step of chlorine fades by losses, feeds and readings; own judgement
LEARNT_SINCE = 0.5  # of a test's step, by the electrode's readings of two days and more; own judgement
_VAR_MOST = (1.0, 0.25, 2500.0)  # of pH, of its probe's offset, of the alkalinity; as in `ph` and `filter`


def remembered(
    before: Estimate, after: Estimate, test: WaterTest, applied: Callable[[Estimate], Estimate] | None = None
) -> Estimate:
    """`after` with what this test changed kept; and of each earlier test of its quantity, what is left of that.

    applied : this test applied to another estimate, None where it can't be (one typed in late). So a slip that was answered by a
    good test before it is withdrawn has little left to take back, or much where it made the good one doubted.
    """
    counted = (before.tested_s, before.drift_mv_sqrt_day, before.dead_s) if test.quantity is Quantity.FREE_CHLORINE else None
    taught = Taught(test.request, test.quantity, *_steps(before, after), counted, after.updated_s)
    kept = [t for t in after.taught if t.request != test.request]
    kept = [_left(t, before, after, applied) if t.quantity is test.quantity else t for t in kept]
    return replace(after, taught=(*kept, taught)[-KEPT:])


def _left(taught: Taught, before: Estimate, after: Estimate, applied: Callable[[Estimate], Estimate] | None) -> Taught:
    """What an earlier test still changes: the estimate beside the one that never had it. If not known: all of it, in doubt."""
    if applied is None:
        freed = tuple(copysign(hypot(doubt, step), step) for doubt, step in zip(taught.freed, taught.by, strict=True))
        return replace(taught, freed=freed)
    by, freed = _steps(applied(_undone(before, taught)), after)
    return replace(taught, by=by, freed=freed, at_s=after.updated_s)


def _steps(before: Estimate, after: Estimate) -> tuple[tuple[float, ...], tuple[float, ...]]:
    by = tuple(new - old for old, new in zip(_means(before), _means(after), strict=True))
    freed = tuple(
        copysign(sqrt(max(0.0, old - new)), step) for old, new, step in zip(_vars(before), _vars(after), by, strict=True)
    )
    return by, freed


def forgotten(est: Estimate, kind: SignalKind) -> tuple[Taught, ...]:
    """What the tests taught, but for what they taught of a probe that is gone."""
    gone = OF_PROBE.get(kind, ())

    def without(values: tuple[float, ...]) -> tuple[float, ...]:
        return tuple(0.0 if place in gone else value for place, value in enumerate(values))

    return tuple(replace(t, by=without(t.by), freed=without(t.freed)) for t in est.taught)


def counted_before(est: Estimate, test: WaterTest) -> Estimate:
    """The estimate with a withdrawn test struck from its record, and no longer counted as the last test of chlorine."""
    found = next((t for t in est.taught if t.request == test.request), None)
    if found is None:
        return est
    newest = next(t for t in reversed(est.taught) if t.quantity is found.quantity)
    est = replace(est, taught=tuple(t for t in est.taught if t is not found))
    if found.counted is None or newest is not found:
        return est
    tested_s, drift, dead_s = found.counted
    return replace(est, tested_s=tested_s, drift_mv_sqrt_day=drift, dead_s=max(dead_s, est.dead_s))


def undone(est: Estimate, test: WaterTest) -> Estimate:
    """The estimate without the step of a withdrawn test; unchanged where none is kept of it."""
    found = next((t for t in est.taught if t.request == test.request), None)
    return est if found is None else _undone(counted_before(est, test), found)


def _undone(est: Estimate, found: Taught) -> Estimate:
    # Of a slip of minutes ago all is still there, where the hours that could be run again were lost; of one of days ago nothing.
    stays = _stays(est, found)
    by = tuple(stays * value if place == CHLORINE else value for place, value in enumerate(found.by))
    back = [tuple(stays * value if place == CHLORINE else value for place, value in enumerate(found.freed))]
    if found.quantity is Quantity.FREE_CHLORINE:
        back.append(tuple(stays * (1.0 - stays) * value if place == CHLORINE else 0.0 for place, value in enumerate(found.by)))
        step = LEARNT_SINCE * (1.0 - stays) * found.by[CHLORINE]
        both = {CHLORINE: step, OFFSET: -est.mean[SLOPE] / log(10.0) * step}
        back.append(tuple(both.get(place, 0.0) for place in range(len(by))))
    if found.quantity in (Quantity.PH, Quantity.ALKALINITY):
        return _beside(est, by, back)
    mean, p = [value - step for value, step in zip(est.mean, by[:SIZE], strict=True)], rows_of(est.cov)
    for vector in back:
        for i in range(SIZE):
            for j in range(SIZE):
                p[i][j] += vector[i] * vector[j]
    bounded(mean, p, LIMITS)
    # A late test would run the stored hours again, which still hold the slip.
    waiting = unsettled_with(est, est.tests, est.updated_s or 0.0)
    return replace(est, mean=tuple(mean), cov=triangle_of(p), hour=None, history=(), tests=(), unsettled=waiting)


def _stays(est: Estimate, found: Taught) -> float:
    """Share of a step of chlorine that is still in the estimate."""
    if found.at_s is None or est.updated_s is None:
        return 0.0
    return exp(-max(0.0, est.updated_s - found.at_s) / STAYS_S)


def _beside(est: Estimate, by: tuple[float, ...], back: list[tuple[float, ...]]) -> Estimate:
    """pH and alkalinity, which stand beside the joint state."""
    value, offset, var, both, offset_var = est.ph
    alkalinity_var = est.alkalinity_var
    for vector in back:
        var, both = var + vector[PH] ** 2, both + vector[PH] * vector[PH_OFFSET]
        offset_var, alkalinity_var = offset_var + vector[PH_OFFSET] ** 2, alkalinity_var + vector[ALKALINITY] ** 2
    var, offset_var, alkalinity_var = (min(v, m) for v, m in zip((var, offset_var, alkalinity_var), _VAR_MOST, strict=True))
    both = copysign(min(abs(both), 0.99 * sqrt(var * offset_var)), both)
    return replace(
        est,
        ph=(value - by[PH], offset - by[PH_OFFSET], var, both, offset_var),
        alkalinity_mg_l=max(10.0, est.alkalinity_mg_l - by[ALKALINITY]),
        alkalinity_var=alkalinity_var,
    )


def _means(est: Estimate) -> tuple[float, ...]:
    return (*est.mean, est.ph[0], est.ph[1], est.alkalinity_mg_l)


def _vars(est: Estimate) -> tuple[float, ...]:
    return (*(var_of(est.cov, state) for state in range(SIZE)), est.ph[2], est.ph[4], est.alkalinity_var)
