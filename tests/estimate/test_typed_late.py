"""A test that is typed in some time after it was taken shows of the electrode what one typed at once would have shown."""

import pytest

from dosectl.model.water_tests import Quantity, WaterTest
from tests.estimate.test_estimate import Watched, hand_test, pool_after_a_test

DAY_MIN = 1440


def _tested(watched: Watched, name: str) -> WaterTest:
    return hand_test(watched.pool, Quantity.FREE_CHLORINE, watched.pool.free_mg_l, 0.25, name)


def fallen(seed: int, typed_min: int, fall_mv: float, hours: int, stabiliser_min: int | None = None) -> Watched:
    """A pool whose electrode falls, and then two samples half an hour apart, each typed so many minutes later.

    stabiliser_min : a test of stabiliser of the second sample, typed so many minutes later
    """
    watched = pool_after_a_test(seed)
    watched.run(48.0)
    for _ in range(hours):
        watched.orp_shift_mv -= fall_mv / hours
        watched.run(1.0)
    taken: dict[int, WaterTest] = {}
    for minute in range(200):
        if minute in (0, 30):
            taken[minute] = _tested(watched, f"{minute}")
        watched.step(*([taken[minute - typed_min]] if minute - typed_min in taken else []))
        if stabiliser_min is not None and minute == 30:
            stabiliser = hand_test(watched.pool, Quantity.STABILISER, 50.0, 6.0)
        if stabiliser_min is not None and minute == 30 + stabiliser_min:
            watched.step(stabiliser)
    return watched


@pytest.mark.parametrize("typed_min", [5, 20, 90])
@pytest.mark.parametrize(("seed", "fall_mv", "hours"), [(1, 150.0, 96), (3, 90.0, 48)])
def test_a_dead_electrode_is_found_out_by_tests_typed_late(seed: int, fall_mv: float, hours: int, typed_min: int) -> None:
    """20 minutes late 0.27 mg/L [0.11 to 0.64] was believed at 2.03, and 0.18 at 1.70 a week later."""
    watched = fallen(seed, typed_min, fall_mv, hours)
    assert watched.view.free_chlorine_mg_l == pytest.approx(watched.pool.free_mg_l, rel=0.3)
    watched.run(48.0)
    assert watched.view.low95_mg_l < watched.pool.free_mg_l < watched.view.high95_mg_l


@pytest.mark.parametrize(("typed_min", "stabiliser_min"), [(0, 25), (0, 160), (20, 25)])
def test_an_electrode_that_was_found_dead_is_not_believed_again_for_a_late_test_of_another_kind(
    typed_min: int, stabiliser_min: int
) -> None:
    """Chlorine and stabiliser of one sample, the second typed later: the hours that were run again believed the dead electrode,
    and 0.02 mg/L [0.01 to 0.07] stood for a true 2.45."""
    watched = fallen(1, typed_min, 150.0, 96, stabiliser_min)
    assert watched.view.free_chlorine_mg_l == pytest.approx(watched.pool.free_mg_l, rel=0.3)
    watched.run(24.0)
    assert watched.view.low95_mg_l < watched.pool.free_mg_l < watched.view.high95_mg_l


@pytest.mark.parametrize(("drift_mv_day", "typed_min"), [(-8.0, 20), (8.0, 360)])
def test_a_drifting_electrode_is_found_out_by_weekly_tests_typed_late(drift_mv_day: float, typed_min: int) -> None:
    """Typed 20 minutes late nothing was learnt, and 4 to 30 % of the hours lay in the stated 95 % band."""
    watched = pool_after_a_test()
    taken: WaterTest | None = None
    for minute in range(23 * DAY_MIN):
        watched.orp_shift_mv += drift_mv_day / DAY_MIN
        if minute % (7 * DAY_MIN) == 12 * 60:
            taken = _tested(watched, f"{minute}")
        watched.step(*([taken] if taken is not None and minute % (7 * DAY_MIN) == 12 * 60 + typed_min else []))
    assert watched.estimate.drift_mv_sqrt_day is not None
    assert watched.estimate.drift_mv_sqrt_day > 5.0


def test_a_late_test_of_water_that_died_later_does_not_end_dead_water() -> None:
    watched = pool_after_a_test(3)
    watched.run(24.0)
    late = _tested(watched, "late")
    watched.dose_g = 0.0
    watched.run(7 * 24.0)
    dead_s = watched.estimate.dead_s
    assert dead_s > 3 * 86400.0
    watched.step(late)
    assert "late" not in watched.estimate.doubted
    assert watched.estimate.dead_s == pytest.approx(dead_s, abs=120.0)
