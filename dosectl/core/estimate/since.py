"""What was poured in or fed since a test of pH or alkalinity was taken: it found the water before, and is compared with that.

Of alkalinity what was added and fed is known, and is counted on top of what the test found. Of pH the probe shows how far the
water has moved since, but not whether it was followed all the time: a test is wider by that much, and teaches less of the probe.
"""

from dataclasses import replace
from math import hypot

from dosectl.core.estimate.chlorine import ADDED_DOUBT
from dosectl.core.estimate.late_tests import LATE_S
from dosectl.core.estimate.state import Estimate, Hour
from dosectl.model.water_tests import WaterTest

ACID_DOUBT = 0.1  # of what was fed, one standard deviation


def alkalinity_of_now(est: Estimate, test: WaterTest) -> WaterTest:
    """The test of alkalinity as one of the water of now, as far as the stored hours know what came since. [mg/L as CaCO3]"""
    hours = est.history if est.hour is None else (*est.history, est.hour)
    by, sigma = 0.0, test.sigma
    for pour in [p for hour in hours for p in hour.pours if p.at_s >= test.taken_s]:
        by, sigma = by + pour.alkalinity_mg_l, hypot(sigma, ADDED_DOUBT * pour.alkalinity_mg_l)
    if _is_late(est, test):
        acid = sum([hour.acid_mg_l * _share_since(hour, test.taken_s) for hour in hours])
        by, sigma = by - acid, hypot(sigma, ACID_DOUBT * acid)
    return test if by == 0.0 else replace(test, value=max(0.0, test.value + by), sigma=sigma)


def ph_of_now(est: Estimate, test: WaterTest) -> WaterTest:
    """The test of pH, wider by as much as the pH has moved by the probe since it was taken."""
    hours = est.history if est.hour is None else (*est.history, est.hour)
    poured = any(p.at_s >= test.taken_s for hour in hours for p in hour.pours)
    if not poured and not _is_late(est, test):
        return test
    now = est.ph[0] + est.ph[1]
    known = [hour for hour in hours if hour.ph_read is not None]
    # Of the hour that it was taken in and of the one before: the pH at each one's end. Older than all: as the first one ended.
    around = [hour for hour in known if hour.start_s <= test.taken_s][-2:] or known[:1]
    moved = max([abs(now - hour.ph_read) for hour in around if hour.ph_read is not None], default=0.0)
    return replace(test, sigma=hypot(test.sigma, moved))


def _share_since(hour: Hour, from_s: float) -> float:
    """Of an hour's span, what lies after a moment."""
    return 0.0 if hour.span_s <= 0.0 else min(1.0, max(0.0, (hour.start_s + hour.span_s - from_s) / hour.span_s))


def _is_late(est: Estimate, test: WaterTest) -> bool:
    return est.updated_s is not None and est.updated_s - test.taken_s > LATE_S
