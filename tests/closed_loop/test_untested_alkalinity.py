"""Chlorine and pH are tested each week, the alkalinity never: the pH is held all the same."""

import pytest

from tests.closed_loop.test_spoiled_kit import Pool

HOURLY = tuple((float(hour), hour + 1.0) for hour in range(0, 24, 2))


@pytest.mark.parametrize(("seed", "hours"), [(2, None), (5, None), (2, HOURLY)])
def test_a_pool_whose_alkalinity_nobody_tests_keeps_its_ph(seed: int, hours: tuple[tuple[float, float], ...] | None) -> None:
    """By the ledger its alkalinity was used up after three weeks, acid faded out, and the pH stood at 8.1 for the season. With a
    pump on an hourly timer it did so beside a weekly test of pH too, as no feed had an hour of flow behind it."""
    pool = Pool(seed, hours)
    out = count = 0
    for week in range(6):
        pool.loop.water_test("free_chlorine", "drops")
        pool.loop.water_test("ph", "drops")
        pool.days(0.0)
        if pool.plant.truth().alkalinity_mg_l < 65.0:  # as an owner's bicarbonate that nobody enters, or fill water
            pool.plant.add_by_hand("bicarbonate_g", 1.68 * 20.0 * pool.plant.params.water.volume_m3)
        for moment in pool.loop.run(7 * 24.0):
            count += week >= 3
            out += week >= 3 and not 7.2 <= moment.truth.ph <= 7.8
    assert out < 0.05 * count
