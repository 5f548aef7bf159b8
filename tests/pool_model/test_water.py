"""The simulated water against published figures and plain balances."""

import csv
from dataclasses import replace
from pathlib import Path

import pytest

from dosectl.chemistry import carbonate
from dosectl.pool_model.params import BatherParams, CellParams, Party, WaterParams
from dosectl.pool_model.plant import PoolPlant
from dosectl.pool_model.water import Surroundings, Water
from tests.pool_model.pools import MIDDAY, QUIET, a_plant, still_water, zero_random

STILL = Surroundings(air_c=25.0)
REFERENCE = Path(__file__).parent.parent / "reference"


def held_for_a_day(plant: PoolPlant, free_chlorine_mg_l: float) -> float:
    """Chlorine lost in 24 h with the level held by hand [mg/L]."""
    before = plant.truth().lost_chlorine_g
    volume = plant.params.water.volume_m3
    for _ in range(24 * 6):
        missing = max(0.0, free_chlorine_mg_l - plant.truth().free_chlorine_mg_l)
        plant.add_by_hand("hypochlorite_125_g_l_ml", missing * volume / 0.125)
        plant.advance(600.0, {})
    return (plant.truth().lost_chlorine_g - before) / volume


@pytest.mark.parametrize("cya_mg_l", [40.0, 50.0])
def test_a_stabilised_pool_loses_2_to_3_mg_l_on_a_clear_july_day(cya_mg_l: float) -> None:
    # Common practice: 2-3 mg/L a day in full summer sun.
    plant = a_plant(water=replace(QUIET, cya_mg_l=cya_mg_l, free_chlorine_mg_l=3.0))
    assert 2.0 <= held_for_a_day(plant, 3.0) <= 3.0


def test_without_stabiliser_noon_sun_takes_75_to_90_percent_within_two_hours() -> None:
    # Stated in the introduction of a journal article whose source was not seen: 75-90 % within 2 h.
    plant = a_plant(water=replace(QUIET, cya_mg_l=0.0, free_chlorine_mg_l=3.0, demand_mg_l_day=0.0), start=MIDDAY)
    plant.advance(7200.0, {})
    assert 0.75 <= 1.0 - plant.truth().free_chlorine_mg_l / 3.0 <= 0.90


def test_at_night_only_demand_takes_chlorine() -> None:
    midnight = MIDDAY.replace(hour=22)
    dark = a_plant(water=replace(QUIET, demand_mg_l_day=0.0, k_thermal_per_day=0.0), start=midnight)
    dark.advance(4 * 3600.0, {})
    assert dark.truth().uv == 0.0
    assert dark.truth().free_chlorine_mg_l == pytest.approx(QUIET.free_chlorine_mg_l, abs=0.02)  # algae in traces only


def test_what_is_fed_less_what_is_lost_is_in_the_water() -> None:
    plant = a_plant()
    start = plant.truth().free_chlorine_mg_l
    for hour in range(72):
        plant.advance(3600.0, {"cell": 1.0} if plant.truth().flow and hour % 3 == 0 else {})
    truth = plant.truth()
    volume = plant.params.water.volume_m3
    assert truth.fed_chlorine_g > 100.0
    assert volume * (truth.free_chlorine_mg_l - start) == pytest.approx(truth.fed_chlorine_g - truth.lost_chlorine_g, abs=1e-6)


def test_a_cell_gives_what_its_plate_says_in_warm_salt_water() -> None:
    plant = a_plant(feeders=(CellParams(output_g_h=20.0, wear_per_day=0.0),))
    plant.advance(60.0, {})
    plant.advance(3600.0, {"cell": 1.0})
    assert plant.truth().fed_chlorine_g == pytest.approx(20.0, rel=1e-9)


@pytest.mark.parametrize(("temp_c", "salt_g_l"), [(12.0, 3.2), (27.0, 2.0)])
def test_a_cell_gives_less_in_cold_or_little_salt(temp_c: float, salt_g_l: float) -> None:
    plant = a_plant(water=replace(QUIET, temp_c=temp_c, salt_g_l=salt_g_l))
    plant.advance(60.0, {})
    plant.advance(600.0, {"cell": 1.0})
    assert 0.0 < plant.truth().fed_chlorine_g < 0.8 * 20.0 / 6.0


def test_acid_moves_ph_as_the_outside_table_says() -> None:
    with (REFERENCE / "acid_demand.csv").open() as file:
        rows = list(csv.DictReader(line for line in file if not line.startswith("#")))
    checked = 0
    for row in rows:
        if (row["ph_from"], row["ph_to"], row["borate_b_mg_l"]) != ("7.8", "7.5", "0"):
            continue
        ta, cya = float(row["ta_mg_l"]), float(row["cya_mg_l"])
        water = still_water(ph=7.8, alkalinity_mg_l=ta, cya_mg_l=cya, free_chlorine_mg_l=0.0, temp_c=25.0)
        water.feed_acid(float(row["acid_meq_l_phreeqc"]) * 50.04)
        for _ in range(200):
            water.step(60.0, Surroundings(air_c=25.0, pump_on=True))
        assert water.ph == pytest.approx(7.5, abs=0.01), row
        checked += 1
    assert checked >= 4


def test_carbon_dioxide_leaves_and_ph_rises_while_alkalinity_stays() -> None:
    water = still_water(ph=7.5, free_chlorine_mg_l=0.0, co2_transfer_cm_h=6.0)
    for _ in range(24 * 60):
        water.step(60.0, STILL)
    assert 7.51 < water.ph < 7.8
    assert water.alkalinity_mg_l == pytest.approx(80.0, abs=1e-6)


def test_water_above_the_airs_balance_takes_carbon_dioxide_up() -> None:
    water = still_water(ph=8.8, free_chlorine_mg_l=0.0, co2_transfer_cm_h=6.0)
    for _ in range(24 * 60):
        water.step(60.0, STILL)
    assert water.ph < 8.8


def test_chlorine_made_and_used_up_leaves_alkalinity_as_it_was() -> None:
    water = still_water(free_chlorine_mg_l=0.0, demand_mg_l_day=30.0)
    water.feed_chlorine(3.0)
    raised = water.total_alkalinity_mg_l
    for _ in range(3 * 24 * 60):
        water.step(60.0, Surroundings(air_c=25.0, pump_on=True))
    assert raised == pytest.approx(80.0 + 3.0 * 0.706, abs=0.01)
    assert water.free_chlorine_mg_l < 0.05
    assert water.total_alkalinity_mg_l == pytest.approx(80.0, abs=0.05)


def test_tablets_leave_acid_and_stabiliser_behind() -> None:
    plant = a_plant(water=replace(QUIET, demand_mg_l_day=5.0))
    before = plant.truth()
    plant.add_by_hand("trichlor_g", 100.0)
    assert plant.truth().free_chlorine_mg_l - before.free_chlorine_mg_l == pytest.approx(1.8, abs=0.01)
    assert plant.truth().cya_mg_l - before.cya_mg_l == pytest.approx(1.8 * 0.607, abs=0.01)
    assert plant.truth().ph < before.ph


def test_bicarbonate_raises_alkalinity_and_hardly_ph() -> None:
    plant = a_plant()
    before = plant.truth()
    plant.add_by_hand("bicarbonate_g", 16.8 * 50.0)  # +10 mg/L
    after = plant.truth()
    assert after.alkalinity_mg_l - before.alkalinity_mg_l == pytest.approx(10.0, abs=0.1)
    assert abs(after.ph - before.ph) < 0.06


def test_eight_bathers_cost_what_the_field_median_says() -> None:
    # 5.5 g of chlorine each. Source: Bradford (2014), IJARE, abstract.
    party = BatherParams(parties=(Party(5, 15.0, 18.0, 8),), weekday_chance=0.0, weekend_chance=0.0)
    calm = BatherParams(weekday_chance=0.0, weekend_chance=0.0)
    nothing_else = replace(QUIET, demand_mg_l_day=0.0, k_thermal_per_day=0.0, shade=0.0)
    lost = []
    for bathers in (party, calm):
        plant = a_plant(bathers=bathers, water=nothing_else, start=MIDDAY)
        plant.advance(4 * 86400.0, {})
        lost.append(plant.truth().lost_chlorine_g)
    assert lost[0] - lost[1] == pytest.approx(44.0, rel=0.05)


def test_rain_dilutes() -> None:
    # 50 mm on 1.5 m: x 0.967.
    water = still_water(free_chlorine_mg_l=0.0)
    for _ in range(60):
        water.step(60.0, Surroundings(air_c=25.0, rain_mm_h=50.0))
    assert water.salt_g_l / 3.2 == pytest.approx(0.967, abs=0.001)


def test_ph_follows_the_chemistry_through_a_great_fall() -> None:
    # A whole container of acid siphons in: the water must follow to the bottom, and come back.
    water = still_water(free_chlorine_mg_l=1.0)
    water.feed_acid(120.0)
    for _ in range(300):
        water.step(60.0, Surroundings(air_c=25.0, pump_on=True))
    assert water.ph < 4.0
    water.feed_acid(-130.0)
    for _ in range(300):
        water.step(60.0, Surroundings(air_c=25.0, pump_on=True))
    assert water.ph > 7.0


def test_start_agrees_with_the_carbonate_room() -> None:
    water = Water(WaterParams(), zero_random())
    dic = carbonate.total_alkalinity_to_dic(80.0, 7.6, 50.0, 0.0, 27.0, 3.2 / 58.44 + 0.005)
    assert water.dic_mol_l * 1000.0 == pytest.approx(dic, rel=0.02)


def test_leaves_take_what_their_figure_says_over_the_days_and_four_times_that_in_double_wind() -> None:
    def lost(leaves_mg_l_day: float, wind_m_s: float, covered: bool = False) -> float:
        water = Water(replace(QUIET, free_chlorine_mg_l=8.0, leaves_mg_l_day=leaves_mg_l_day), zero_random())
        for _ in range(3 * 24 * 60):
            water.step(60.0, replace(STILL, wind_m_s=wind_m_s, covered=covered))
        return water.lost_mg_l

    usual = lost(0.3, 2.0) - lost(0.0, 2.0)
    assert usual == pytest.approx(0.3 * 2.6, abs=0.12)  # some of the last day's is still to come
    assert lost(0.3, 4.0) - lost(0.0, 4.0) == pytest.approx(4.0 * usual, rel=0.15)
    assert lost(0.3, 2.0, covered=True) == pytest.approx(lost(0.0, 2.0, covered=True))
