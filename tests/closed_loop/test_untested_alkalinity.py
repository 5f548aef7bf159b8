"""Chlorine and pH are tested each week, the alkalinity never: the pH is held all the same."""

import pytest

from tests.closed_loop.taught_pool import Pool
from tests.further import further

HOURLY = tuple((float(hour), hour + 1.0) for hour in range(0, 24, 2))


class Weeks:
    """Six weeks of a pool: share of the last three's hours with a pH out of 7.2 to 7.8, the highest, and what was called."""

    def __init__(self, seed: int, hours: tuple[tuple[float, float], ...] | None) -> None:
        self.pool = Pool.after_a_fortnight(seed, hours)
        out = count = 0
        self.highest, self.called = 0.0, set[str]()
        for week in range(6):
            self.pool.loop.water_test("free_chlorine", "drops")
            self.pool.loop.water_test("ph", "drops")
            self.pool.days(0.0)
            if self.pool.plant.truth().alkalinity_mg_l < 65.0:  # as an owner's bicarbonate that nobody enters, or fill water
                self.pool.plant.add_by_hand("bicarbonate_g", 1.68 * 20.0 * self.pool.plant.params.water.volume_m3)
            for moment in self.pool.loop.run(7 * 24.0):
                count += week >= 3
                out += week >= 3 and not 7.2 <= moment.truth.ph <= 7.8
                self.highest = max(self.highest, moment.truth.ph)
                self.called |= {str(change.code) for change in moment.decision.alarms}
        self.out = out / count


@pytest.mark.parametrize(("seed", "hours"), [further(2, None), further(5, None), (5, HOURLY)])
def test_a_pool_whose_alkalinity_nobody_tests_keeps_its_ph(seed: int, hours: tuple[tuple[float, float], ...] | None) -> None:
    """By the ledger its alkalinity was used up after three weeks, acid faded out, and the pH stood at 8.1 for the season. With a
    pump on an hourly timer it did so beside a weekly test of pH too, as no feed had an hour of flow behind it."""
    assert Weeks(seed, hours).out < 0.05


@pytest.mark.further
def test_a_pool_that_takes_more_than_a_test_of_ph_can_vouch_for_stays_below_8_and_is_called() -> None:
    """Its acid is stronger than booked and its cell airs it all day; a test of the alkalinity, which is asked for, ends it."""
    weeks = Weeks(2, HOURLY)
    assert weeks.out < 0.25
    assert weeks.highest < 8.0
    assert "feed.acid_budget_low" in weeks.called
    weeks.pool.loop.water_test("alkalinity", "drops")
    weeks.pool.days(3.0)
    assert "acid.budget" not in weeks.pool.limited_by()
    assert weeks.pool.plant.truth().ph < 7.8
