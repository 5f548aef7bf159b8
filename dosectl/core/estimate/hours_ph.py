"""The pH of hours gone by, once something typed late or withdrawn says that it was another.

A reading of redox is held against the pH of its hour. What pH is believed of now stands beside those hours (`ph_tests`), so what
a slip made of the electrode's offset while it was believed would stay: 0.71 mg/L at a true 1.97. The hours are given the pH that
they should have had, and run again.
"""

from dataclasses import dataclass, replace

from dosectl.core.estimate.chlorine import DAY_S
from dosectl.core.estimate.late_tests import LATE_S, run_again
from dosectl.core.estimate.params import EstimateParams
from dosectl.core.estimate.state import Estimate, Hour, Taught
from dosectl.model.water_tests import Quantity

LEAST_PH = 0.02  # less is not worth a new run, which goes by the hours' means
PH_MIN, PH_MAX = 6.0, 9.0  # as the filter uses it


@dataclass(frozen=True, slots=True)
class Change:
    """From a moment on [plant clock] something else moved pH and the probe's offset, by so much.

    Once the probe was read after `seen_from_s`, what it reads was the water's, and the offset decides; before, the pH itself was
    moved. until_s : when that probe was replaced
    """

    from_s: float
    seen_from_s: float
    value_by: float
    offset_by: float
    until_s: float | None = None

    def of(self, hour: Hour) -> tuple[float, float]:
        """By how much the pH of an hour is moved, and by how much what the probe should have read."""
        ended_s = hour.start_s + hour.span_s
        if ended_s <= self.from_s:
            return 0.0, 0.0
        if self.until_s is not None and hour.start_s >= self.until_s:  # with the probe the offset ended, the water's pH did not
            seen_s = hour.ph_seen_s
            if seen_s is None or seen_s <= self.seen_from_s:
                return self.value_by, self.value_by
            return (0.0, 0.0) if seen_s > self.until_s else (-self.offset_by, -self.offset_by)
        seen_from_s = self.from_s if ended_s <= self.seen_from_s else self.seen_from_s
        followed = hour.ph_seen_s is not None and hour.ph_seen_s > seen_from_s
        return (-self.offset_by, 0.0) if followed else (self.value_by, self.value_by + self.offset_by)


def with_changed(params: EstimateParams, est: Estimate, changes: tuple[Change, ...], depth_share: float) -> Estimate:
    """The estimate run again through hours of another pH."""
    if est.hour is None or all(max(abs(change.value_by), abs(change.offset_by)) < LEAST_PH for change in changes):
        return est
    hours = [_changed(hour, changes) for hour in (*est.history, est.hour)]
    est = replace(est, history=tuple(hours[:-1]), hour=hours[-1])
    return run_again(est, params, depth_share, est.tests, min(change.from_s for change in changes))


def _changed(hour: Hour, changes: tuple[Change, ...]) -> Hour:
    found = [change.of(hour) for change in changes]
    by, read_by = sum(by for by, _ in found), sum(read_by for _, read_by in found)
    if by == 0.0 and read_by == 0.0:
        return hour
    ph_read = None if hour.ph_read is None else hour.ph_read + read_by
    return replace(hour, ph=min(PH_MAX, max(PH_MIN, hour.ph + by)), ph_read=ph_read)


def after_late_test(after: Estimate, request: str) -> tuple[Change, ...]:
    """What a test of pH that was typed late, and is used in `after`, says of the hours since it was taken."""
    taught = next((t for t in after.taught if t.request == request), None)
    return () if taught is None or not _late(taught) else (_change(None, taught),)


def after_withdrawal(before: Estimate, after: Estimate, request: str) -> tuple[Change, ...]:
    """What the hours since a withdrawn test of pH should have had, which was used in `before` and is not in `after`, nor are
    those since used as they were."""
    old = [t for t in before.taught if t.quantity is Quantity.PH]
    first = next((i for i, t in enumerate(old) if t.request == request), None)
    if first is None or any(t.at_s is None for t in old[first:]):
        return ()
    new = {t.request: t for t in after.taught}
    return tuple(_change(taught, new.get(taught.request)) for taught in old[first:])


def taken_s(taught: Taught) -> float:
    """When the water of a test was taken."""
    assert taught.at_s is not None
    return taught.at_s if taught.said is None else taught.at_s - taught.said[2] * DAY_S


def _late(taught: Taught) -> bool:
    return taught.at_s is not None and taught.at_s - taken_s(taught) > LATE_S


def _change(old: Taught | None, new: Taught | None) -> Change:
    """How a test moves pH and the probe's offset otherwise than it did."""
    kept = new or old
    assert kept is not None
    assert kept.at_s is not None
    value, offset, _ = (old.by[-3:] if old is not None else ()) or (0.0, 0.0, 0.0)
    value_now, offset_now, _ = (new.by[-3:] if new is not None else ()) or (0.0, 0.0, 0.0)
    from_s = taken_s(kept) if _late(kept) else kept.at_s
    return Change(from_s, kept.at_s, value_now - value, offset_now - offset, kept.until_s)
