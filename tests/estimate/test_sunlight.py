"""Sunlight that is told takes the place of the clear sky; when it falls silent the usual light here does."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest

from dosectl.core.estimate.begin import start
from dosectl.core.estimate.filter import update
from dosectl.core.estimate.params import EstimateParams
from dosectl.core.estimate.state import Estimate, EstimateInputs
from dosectl.core.estimate.view import water
from tests.builders import a_site

SITE, PARAMS = a_site(), EstimateParams()
NOON = datetime(2026, 7, 1, 10, 0, tzinfo=UTC)


def after(hours: float, est: Estimate, light: float | None, begin: datetime = NOON) -> Estimate:
    """The estimate after hours of sunshine over a resting pool."""
    clock_s = est.updated_s or 0.0
    for minute in range(round(hours * 60.0)):
        clock_s += 60.0
        inputs = EstimateInputs(
            clock_s=clock_s, utc=begin + timedelta(minutes=minute), dt_s=60.0, orp_mv=None, ph=None, ph_sigma=0.05, temp_c=None,
            flow_proven_for_s=0.0, fed=(), light_share=light,
        )  # fmt: skip
        est = update(SITE, PARAMS, est, inputs)
    return est


def fresh() -> Estimate:
    return replace(start(SITE, PARAMS, (), 0.0), updated_s=0.0)


def test_clouds_that_are_told_spare_chlorine() -> None:
    free = [water(SITE, after(4.0, fresh(), light)).free_chlorine_mg_l for light in (1.0, 0.5, 0.1)]
    assert free[0] < free[1] < free[2]
    assert water(SITE, after(4.0, fresh(), None)).free_chlorine_mg_l == pytest.approx(free[0])


def test_the_expected_loss_of_the_day_follows_what_is_told() -> None:
    clear, dull = (water(SITE, after(1.5, fresh(), light)) for light in (1.0, 0.3))
    share = [view.sun_loss_mg_l_day / view.free_chlorine_mg_l for view in (clear, dull)]
    assert share[1] == pytest.approx(0.3 * share[0], rel=0.02)


def test_a_silent_signal_leaves_the_usual_light() -> None:
    est = fresh()
    for day in range(12):
        est = after(8.0, est, 0.6, NOON + timedelta(days=day))
    assert est.light_share == pytest.approx(0.6, abs=0.15)
    silent = after(1.5, est, None, NOON + timedelta(days=12))
    told = after(1.5, est, est.light_share, NOON + timedelta(days=12))
    assert water(SITE, silent).free_chlorine_mg_l == pytest.approx(water(SITE, told).free_chlorine_mg_l)


def test_a_sensor_that_stands_at_nothing_by_day_is_not_taken_for_the_sky() -> None:
    """Believed, it took all sun off the plan, and a pool in the heat lay low for 64 % of two weeks instead of 10 %."""
    est = fresh()
    for day in range(4):
        est = after(8.0, est, 0.0, NOON + timedelta(days=day))
    assert est.light_share == 1.0
    dark, usual = (water(SITE, after(4.0, fresh(), light)) for light in (0.0, None))
    assert dark.free_chlorine_mg_l == pytest.approx(usual.free_chlorine_mg_l)
    assert dark.sun_loss_mg_l_day == pytest.approx(usual.sun_loss_mg_l_day)


def test_the_daylight_that_a_signal_was_dark_in_is_counted_until_it_speaks_and_no_night_counts() -> None:
    est = after(2.0, fresh(), 0.0)
    assert water(SITE, est).dark_h == pytest.approx(2.0, abs=0.02)
    night = after(5.0, est, 0.0, NOON + timedelta(hours=11))
    assert water(SITE, night).dark_h == pytest.approx(2.0, abs=0.02)
    assert water(SITE, after(0.5, night, None, NOON + timedelta(days=1))).dark_h == pytest.approx(2.0, abs=0.02)
    assert water(SITE, after(0.5, night, 0.2, NOON + timedelta(days=1))).dark_h == 0.0


def test_a_mended_sensor_is_believed_to_be_mended_under_a_low_sun_too() -> None:
    """In a northern winter the sun never stands so high that darkness counts: what was counted in autumn stood till spring."""
    est = after(2.0, fresh(), 0.0)
    low_sun = datetime(2026, 7, 1, 18, 0, tzinfo=UTC)
    assert water(SITE, after(0.2, est, 0.0, low_sun)).dark_h == pytest.approx(2.0, abs=0.02)
    assert water(SITE, after(0.2, est, 0.5, low_sun)).dark_h == 0.0
