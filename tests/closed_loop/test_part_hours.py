"""A pump that runs a part of each hour, in water whose laws are not our own: chlorine and pH are held all the same."""

from collections.abc import Mapping
from typing import Any

import pytest

from dosectl.rehearsal.loop import ClosedLoop, demo_loaded
from tests.closed_loop.test_other_water import ToyPlant
from tests.further import further

TARGET_MG_L = 2.5  # 5 % of a stabiliser of 50 mg/L: common practice
DAY = 1440


class InParts(ToyPlant):
    """on_min : minutes of each hour in which the pump runs; on_from_min : from then on it runs without a rest"""

    on_min, on_from_min, on_to_min = 25, 1 << 30, 1 << 30

    @property
    def _flow(self) -> bool:
        minute = int(self.water.now_s / 60.0)
        return minute % 60 < self.on_min or self.on_from_min <= minute < self.on_to_min


def held(plant: InParts) -> tuple[float, float, float, float]:
    """Least and most chlorine [mg/L] and pH of the last seven of nine days, with two tests; it takes some 3 mg/L a day."""
    loop = ClosedLoop.of(demo_loaded(), plant, use_mg_l_day=3.0)
    free, ph = [], []
    for number, moment in enumerate(loop.run(9 * 24.0)):
        if number in (300, 3 * DAY + 300):
            loop.water_test("free_chlorine", "drops")
        if number >= 2 * DAY:
            free.append(moment.truth.free_chlorine_mg_l)
            ph.append(moment.truth.ph)
    return min(free), max(free), min(ph), max(ph)


@pytest.mark.parametrize(
    ("seed", "on_min"), [(1, 25), further(1, 30), further(1, 40), further(3, 25), further(3, 30), further(3, 40)]
)
def test_a_pump_that_runs_a_part_of_each_hour_leaves_acid_its_turn(seed: int, on_min: int) -> None:
    """Each turn of acid fell into the last minutes of a run: nothing was fed, and with a pH of 8.2 the pool died in two weeks."""
    plant = InParts(seed)
    plant.on_min = on_min
    least, most, low_ph, high_ph = held(plant)
    assert 7.2 < low_ph < high_ph < 7.8
    assert 0.6 * TARGET_MG_L < least < most < 1.5 * TARGET_MG_L


@pytest.mark.parametrize(("seed", "hours"), [further(1, 1), further(1, 48), further(5, 48)])
def test_a_pump_that_is_let_run_on_is_not_fed_for_a_long_rest(seed: int, hours: int) -> None:
    """An hour run by hand made all other hours ones of rest; the aim went to twice the target."""
    plant = InParts(seed)
    plant.on_from_min = 6 * DAY + 600
    plant.on_to_min = plant.on_from_min + 60 * hours
    least, most, _, high_ph = held(plant)
    assert high_ph < 7.8
    assert 0.6 * TARGET_MG_L < least < most < 1.5 * TARGET_MG_L


class NoLevel(InParts):
    """19 minutes in each 24; from the second day on the acid's level says nothing, and on the fifth acid is denied for it."""

    @property
    def _flow(self) -> bool:
        return int(self.water.now_s / 60.0) % 24 < 19

    def signals(self) -> Mapping[str, float | bool]:
        said: dict[str, Any] = dict(super().signals())
        said["acid_percent"] = None if self.water.now_s > 86400.0 else said["acid_percent"]
        return said


def test_acid_that_is_denied_in_short_runs_does_not_hold_the_chlorine() -> None:
    """Given back at each end of a run, its turn stood open for ever: no chlorine for two days, 0.02 mg/L."""
    plant = NoLevel(1)
    loop = ClosedLoop.of(demo_loaded(), plant, use_mg_l_day=3.0)
    loop.water_test("free_chlorine", "drops")
    fed_g: list[float] = []
    for number, moment in enumerate(loop.run(6 * 24.0)):
        if number % DAY == 0:
            fed_g.append(moment.truth.fed_chlorine_g)
        if number == 3 * DAY + 300:
            loop.water_test("free_chlorine", "drops")
    assert moment.truth.free_chlorine_mg_l > 0.6 * TARGET_MG_L
    assert fed_g[5] - fed_g[4] > 50.0


@pytest.mark.parametrize("seed", [1, further(3)])
def test_a_high_ph_comes_down_in_short_runs(seed: int) -> None:
    """Turns opened while the acid before still mixed were waited away: pH stood at 8.04 for days, and chlorine at 0.1 mg/L."""
    plant = InParts(seed)
    plant.on_min, plant.water.ph = 20, 8.2
    loop = ClosedLoop.of(demo_loaded(), plant, use_mg_l_day=3.0)
    loop.water_test("free_chlorine", "drops")
    *_, moment = loop.run(5.0 * 24.0)
    assert moment.truth.ph < 7.85
    assert moment.truth.fed_chlorine_g > 5.0 * 50.0
