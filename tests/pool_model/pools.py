"""Pools for these tests, so that each shows only what matters."""

from dataclasses import replace
from datetime import UTC, datetime
from random import Random

from dosectl.pool_model.params import ACID_15, BatherParams, CellParams, DosingPumpParams, PlantParams, WaterParams, WeatherParams
from dosectl.pool_model.plant import PoolPlant
from dosectl.pool_model.water import Water

MORNING = datetime(2026, 7, 11, 6, 0, tzinfo=UTC)  # 8:00 local, the pump starts
MIDDAY = datetime(2026, 7, 11, 10, 30, tzinfo=UTC)  # an hour before the sun's highest
QUIET = WaterParams(demand_spread=0.0)
NOBODY = BatherParams(weekday_chance=0.0, weekend_chance=0.0)
CLEAR = WeatherParams(changeable=0.0, stormy=0.0, wander_c=0.0)
BOTH = (CellParams(), ACID_15)


def zero_random() -> Random:
    """A seeded stream."""
    return Random(0)


def a_plant(
    water: WaterParams = QUIET,
    bathers: BatherParams = NOBODY,
    feeders: tuple[CellParams | DosingPumpParams, ...] = BOTH,
    start: datetime = MORNING,
    seed: int = 1,
) -> PoolPlant:
    """A pool under a clear July sky, nobody in it."""
    return PoolPlant(PlantParams(water=water, bathers=bathers, weather=CLEAR, feeders=feeders), start, seed)


def still_water(**changes: float) -> Water:
    """Water that nothing acts upon but what a test says."""
    params = WaterParams(
        temp_c=25.0,
        demand_mg_l_day=0.0,
        demand_spread=0.0,
        k_thermal_per_day=0.0,
        co2_transfer_cm_h=0.0,
        cya_loss_mg_l_day=0.0,
        exchange_per_day=0.0,
        fill_alkalinity_mg_l=0.0,
    )
    return Water(replace(params, **changes), zero_random())
