"""The pH of hours gone by, once something typed late or withdrawn says that it was another.

A reading of redox is held against the pH of its hour. What pH is believed of now stands beside those hours (`ph_tests`), so what
a slip made of the electrode's offset while it was believed would stay: 0.71 mg/L at a true 1.97. The hours are given the pH that
they should have had, and run again.
"""

from dataclasses import dataclass, replace

from dosectl.core.estimate.chlorine import DAY_S
from dosectl.core.estimate.late_tests import run_again
from dosectl.core.estimate.params import EstimateParams
from dosectl.core.estimate.state import Estimate, Hour, Taught
from dosectl.model.water_tests import Quantity

LEAST_PH = 0.02  # less is not worth a new run, which goes by the hours' means
PH_MIN, PH_MAX = 6.0, 9.0  # as the filter uses it


@dataclass(frozen=True, slots=True)
class Shift:
    """From a moment on [plant clock] the pH was other by `by`, and what the probe should have read by `read_by`."""

    from_s: float
    by: float
    read_by: float


def with_shifted(params: EstimateParams, est: Estimate, shifts: tuple[Shift, ...], depth_share: float) -> Estimate:
    """The estimate run again through hours of another pH. `shifts` by time; each holds until the next."""
    if est.hour is None or all(abs(shift.by) < LEAST_PH for shift in shifts):
        return est
    hours = [_shifted(hour, shifts) for hour in (*est.history, est.hour)]
    est = replace(est, history=tuple(hours[:-1]), hour=hours[-1])
    return run_again(est, params, depth_share, est.tests, min(shift.from_s for shift in shifts))


def _shifted(hour: Hour, shifts: tuple[Shift, ...]) -> Hour:
    ended_s = hour.start_s + hour.span_s
    shift = next((s for s in reversed(shifts) if s.from_s < ended_s), None)
    if shift is None:
        return hour
    ph_read = None if hour.ph_read is None else hour.ph_read + shift.read_by
    return replace(hour, ph=min(PH_MAX, max(PH_MIN, hour.ph + shift.by)), ph_read=ph_read)


def after_late_test(before: Estimate, after: Estimate, taken_s: float) -> tuple[Shift, ...]:
    """What a test of pH that is typed late says of the hours since it was taken."""
    by = after.ph[0] - before.ph[0]
    return (Shift(taken_s, by, by + after.ph[1] - before.ph[1]),)


def after_withdrawal(before: Estimate, after: Estimate, request: str) -> tuple[Shift, ...]:
    """What the hours since a withdrawn test of pH should have had, which was believed in `before` and is not in `after`.

    Where the probe was read after a test, its reading is the water's and the test moved the probe's offset; else it moved the pH.
    """
    old = [t for t in before.taught if t.quantity is Quantity.PH]
    first = next((i for i, t in enumerate(old) if t.request == request), None)
    if first is None or any(t.at_s is None for t in old[first:]):
        return ()
    old, new = old[first:], {t.request: t for t in after.taught}
    found: list[Shift] = []
    by = offset_by = 0.0
    for index, taught in enumerate(old):
        value_by, this_by = _change(taught, new.get(taught.request))
        offset_by += this_by
        last = index + 1 == len(old)
        seen_s = before.ph_seen_s if last else old[index + 1].seen_s
        followed = seen_s is not None and taught.at_s is not None and seen_s > taught.at_s
        by = after.ph[0] - before.ph[0] if last else -offset_by if followed else by + value_by
        found.append(Shift(taken_s(taught), by, 0.0 if followed else by + offset_by))
    return tuple(found)


def taken_s(taught: Taught) -> float:
    """When the water of a test was taken."""
    assert taught.at_s is not None
    return taught.at_s if taught.said is None else taught.at_s - taught.said[2] * DAY_S


def _change(old: Taught, new: Taught | None) -> tuple[float, float]:
    """By how much a test moves pH and the probe's offset otherwise than it did; one that is gone moves neither."""
    value, offset, _ = old.by[-3:] or (0.0, 0.0, 0.0)
    value_now, offset_now, _ = (new.by[-3:] if new is not None else ()) or (0.0, 0.0, 0.0)
    return value_now - value, offset_now - offset
