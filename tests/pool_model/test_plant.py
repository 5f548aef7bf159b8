"""The plant as a whole: repeatable, replaceable, and refusing what makes no sense."""

import math
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from random import Random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from dosectl.pool_model.params import HYPOCHLORITE, CellParams, WaterParams, WeatherParams
from dosectl.pool_model.plant import PoolPlant
from dosectl.pool_model.protocol import Plant, Truth
from dosectl.pool_model.scenarios import QUINCE_HOUSE_START, quince_house, random_params
from tests.pool_model.pools import MORNING, QUIET, a_plant


def a_day(seed: int, dt_s: float = 60.0) -> list[object]:
    """Signals and truth of one day with a fixed habit of feeding."""
    plant = PoolPlant(quince_house(), QUINCE_HOUSE_START, seed)
    seen: list[object] = []
    for step in range(int(86400 / dt_s)):
        flow = plant.signals()["flow"]
        plant.advance(dt_s, {"cell": 1.0} if flow and step % 3 == 0 else {})
        seen.append((plant.truth(), sorted(plant.signals().items())))
    return seen


def test_the_same_seed_gives_the_same_day_to_the_last_bit() -> None:
    assert a_day(7) == a_day(7)


def test_another_seed_gives_another_day() -> None:
    assert a_day(7) != a_day(8)


def test_what_is_fed_does_not_change_the_weather_or_the_guests() -> None:
    fed, idle = (PoolPlant(quince_house(), QUINCE_HOUSE_START, 3) for _ in range(2))
    for _ in range(5 * 24):
        fed.advance(3600.0, {"cell": 1.0})
        idle.advance(3600.0, {})
        one, other = fed.truth(), idle.truth()
        assert (one.uv, one.air_c, one.bathers, one.rain_mm_h) == (other.uv, other.air_c, other.bathers, other.rain_mm_h)


def test_steps_cut_short_by_what_is_fed_change_neither_the_weather_nor_the_water() -> None:
    """A controller that acts within the minute cuts steps where it feeds: hours and days must not creep with it."""
    params = replace(quince_house(), weather=WeatherParams(changeable=0.3, stormy=0.5), water=WaterParams(demand_spread=0.5))
    whole, cut = (PoolPlant(params, QUINCE_HOUSE_START, 3) for _ in range(2))
    spans = Random("spans")
    for hour in range(21 * 24):
        for _ in range(30):
            whole.advance(120.0, {"cell": 0.4})
            first_s = spans.uniform(1.0, 119.0)
            cut.advance(first_s, {"cell": 0.4})
            cut.advance(120.0 - first_s, {"cell": 0.4})
        one, other = whole.truth(), cut.truth()
        assert (one.air_c, one.bathers, one.rain_mm_h) == pytest.approx((other.air_c, other.bathers, other.rain_mm_h)), hour
        assert one.uv == pytest.approx(other.uv, abs=0.01)
        assert one.free_chlorine_mg_l == pytest.approx(other.free_chlorine_mg_l, rel=0.02, abs=0.02), hour


def test_short_and_long_steps_tell_the_same_story() -> None:
    fine, coarse = a_plant(), a_plant()
    for _ in range(6 * 1200):
        fine.advance(3.0, {"cell": 1.0})
    for _ in range(6 * 60):
        coarse.advance(60.0, {"cell": 1.0})
    assert fine.truth().free_chlorine_mg_l == pytest.approx(coarse.truth().free_chlorine_mg_l, rel=0.01)
    assert fine.truth().ph == pytest.approx(coarse.truth().ph, abs=0.005)


def test_it_satisfies_the_public_protocol() -> None:
    plant: Plant = a_plant()
    assert isinstance(plant, Plant)
    assert plant.utc == MORNING
    plant.advance(90.0, {})
    assert plant.utc - MORNING == timedelta(seconds=90)


def test_a_few_lines_of_log_player_can_stand_in_for_it() -> None:
    class Log:
        feeders = ("cell",)

        def __init__(self, rows: list[dict[str, float | bool]]) -> None:
            self._rows, self._elapsed_s = rows, 0.0

        @property
        def utc(self) -> datetime:
            return MORNING + timedelta(seconds=self._elapsed_s)

        def advance(self, dt_s: float, commands: object) -> None:
            self._elapsed_s += dt_s

        def signals(self) -> dict[str, float | bool]:
            return self._rows[int(self._elapsed_s // 60)]

        def truth(self) -> Truth:
            return a_plant().truth()

        def set_fault(self, name: str, on: bool) -> None:
            raise KeyError(name)

        def manual_test(self, quantity: str, method: str) -> float:
            raise KeyError(quantity)

        def add_by_hand(self, product: str, amount: float) -> None:
            raise KeyError(product)

    log: Plant = Log([{"ph": 7.5}, {"ph": 7.6}])
    assert isinstance(log, Plant)
    log.advance(60.0, {})
    assert log.signals()["ph"] == 7.6


def test_asking_does_not_change_what_is_asked() -> None:
    plant = a_plant()
    plant.advance(60.0, {})
    assert plant.signals() == plant.signals()
    assert plant.truth() == plant.truth()


def test_feedback_follows_an_output_at_once() -> None:
    plant = a_plant()
    plant.advance(60.0, {})
    plant.advance(0.0, {"cell": 1.0, "acid": 1.0})
    assert plant.signals()["cell_a"] > 3.0
    assert plant.signals()["acid_running"] is True
    plant.advance(0.0, {})
    assert plant.signals()["cell_a"] == 0.0
    assert plant.signals()["acid_running"] is False
    assert plant.truth().fed_acid_g == 0.0


def test_the_pump_keeps_its_hours_in_local_time() -> None:
    plant = a_plant(start=datetime(2026, 7, 11, 5, 58, tzinfo=UTC))
    hours = []
    for _ in range(24 * 60):
        plant.advance(60.0, {})
        hours.append(plant.signals()["flow"])
    assert sum(hours) == pytest.approx(12 * 60, abs=2)
    assert hours[0] is False
    assert hours[10] is True


def test_what_is_fed_into_a_standing_line_comes_at_the_restart() -> None:
    night = datetime(2026, 7, 11, 20, 0, tzinfo=UTC)
    plant = a_plant(feeders=(HYPOCHLORITE,), start=night, water=replace(QUIET, demand_mg_l_day=0.0))
    plant.advance(600.0, {"hypo": 1.0})
    assert plant.truth().fed_chlorine_g == pytest.approx(600.0 / 6.0 * 0.125, rel=0.01)
    assert plant.truth().fed_without_flow_s == 600.0
    standing = plant.truth().free_chlorine_mg_l
    plant.advance(9.0 * 3600.0, {})
    assert plant.truth().free_chlorine_mg_l < standing
    before = plant.truth().free_chlorine_mg_l
    plant.advance(3600.0 + 120.0, {})
    assert plant.truth().free_chlorine_mg_l > before + 0.1


def test_a_cell_without_flow_is_ended_by_its_own_gas_sensor() -> None:
    night = datetime(2026, 7, 11, 20, 0, tzinfo=UTC)
    plant = a_plant(feeders=(CellParams(gas_cutout_s=45.0),), start=night)
    for _ in range(60):
        plant.advance(3.0, {"cell": 1.0})
    assert plant.truth().fed_without_flow_s == pytest.approx(45.0, abs=3.0)
    assert plant.signals()["cell_a"] == 0.0


def test_standing_sample_water_takes_the_plant_rooms_warmth_and_loses_orp() -> None:
    evening = datetime(2026, 7, 11, 17, 50, tzinfo=UTC)
    plant = a_plant(start=evening)
    plant.advance(500.0, {})
    flowing = plant.signals()
    plant.advance(8 * 3600.0, {})
    standing = plant.signals()
    assert standing["orp_mv"] < flowing["orp_mv"] - 40.0
    assert standing["temp_c"] == pytest.approx(24.0, abs=0.2)
    assert plant.truth().temp_c > 25.0


def test_orp_rises_by_its_slope_per_decade_of_hocl() -> None:
    low, high = (a_plant(water=replace(QUIET, free_chlorine_mg_l=fc)) for fc in (1.0, 5.0))
    for plant in (low, high):
        plant.advance(60.0, {})
    ratio = high.truth().hocl_mg_l / low.truth().hocl_mg_l
    seen = float(high.signals()["orp_mv"]) - float(low.signals()["orp_mv"])
    assert seen == pytest.approx(50.0 * math.log10(ratio), abs=6.0)


def test_old_hypochlorite_feeds_less() -> None:
    fed = []
    for age_days in (0.0, 200.0):
        plant = a_plant(feeders=(replace(HYPOCHLORITE, age_days=age_days, storage_c=30.0),))
        plant.advance(60.0, {})
        plant.advance(600.0, {"hypo": 1.0})
        fed.append(plant.truth().fed_chlorine_g)
    assert fed[1] < 0.5 * fed[0]


def test_a_container_runs_empty() -> None:
    plant = a_plant(feeders=(replace(HYPOCHLORITE, fill_ml=50.0),))
    plant.advance(3600.0, {"hypo": 1.0})
    assert plant.signals()["hypo_percent"] == 0.0
    assert plant.truth().fed_chlorine_g == pytest.approx(50.0 * 0.125, rel=1e-3)


def test_a_refill_is_fresh_and_ends_the_emptiness() -> None:
    plant = a_plant(feeders=(replace(HYPOCHLORITE, fill_ml=0.0, age_days=300.0),))
    plant.advance(60.0, {"hypo": 1.0})
    assert plant.truth().fed_chlorine_g == 0.0
    plant.add_by_hand("hypo_container_ml", 10_000.0)
    assert plant.signals()["hypo_percent"] == 50.0
    plant.advance(60.0, {"hypo": 1.0})
    assert plant.truth().fed_chlorine_g == pytest.approx(10.0 * 0.125, rel=0.01)


def test_a_pool_left_alone_for_a_month_goes_to_nothing_and_grows_algae() -> None:
    plant = a_plant()
    plant.advance(30 * 86400.0, {})
    assert plant.truth().free_chlorine_mg_l < 0.01
    plant.add_by_hand("hypochlorite_125_g_l_ml", 400.0)
    plant.advance(3600.0, {})
    assert plant.truth().loss_mg_l_day > 4.0


def test_it_refuses_what_makes_no_sense() -> None:
    plant = a_plant()
    with pytest.raises(KeyError, match="cell, acid"):
        plant.advance(1.0, {"hypo": 1.0})
    for level in (-0.1, 1.1, float("nan")):
        with pytest.raises(ValueError, match="0 to 1"):
            plant.advance(1.0, {"cell": level})
    with pytest.raises(ValueError, match="does not go back"):
        plant.advance(-1.0, {})
    with pytest.raises(ValueError, match="its zone"):
        PoolPlant(quince_house(), datetime(2026, 7, 11))  # noqa: DTZ001 - the point of the test
    with pytest.raises(KeyError, match="known are"):
        plant.add_by_hand("holy_water_l", 1.0)
    with pytest.raises(ValueError, match="0 or more"):
        plant.add_by_hand("salt_g", -1.0)


@settings(max_examples=25, deadline=None)
@given(seed=st.integers(0, 10_000), hypochlorite=st.booleans())
def test_any_random_pool_lives_through_two_days(seed: int, hypochlorite: bool) -> None:
    params = random_params(seed, hypochlorite)
    assert params == random_params(seed, hypochlorite)
    plant = PoolPlant(params, QUINCE_HOUSE_START, seed)
    for _ in range(48):
        plant.advance(3600.0, {})
        truth = plant.truth()
        assert 0.0 <= truth.free_chlorine_mg_l < 6.0
        assert 6.8 < truth.ph < 8.8
        assert 5.0 < truth.temp_c < 40.0
        signals = plant.signals()
        assert 350.0 < float(signals["orp_mv"]) < 850.0
        assert 6.5 < float(signals["ph"]) < 9.0
