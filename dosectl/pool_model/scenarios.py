"""Ready pools: the demo's, and a wide random draw for closed-loop runs."""

from dataclasses import replace
from datetime import UTC, datetime
from random import Random

from dosectl.pool_model.params import (
    ACID_15,
    HYPOCHLORITE,
    BatherParams,
    CellParams,
    CirculationParams,
    DosingPumpParams,
    OrpParams,
    Party,
    PhParams,
    PlantParams,
    SampleLineParams,
    WaterParams,
    WeatherParams,
)

QUINCE_HOUSE_START = datetime(2026, 7, 11, 6, 0, tzinfo=UTC)


def quince_house(hypochlorite: bool = False) -> PlantParams:
    """Quince House, an invented home pool: 50 m3, salt, stabilised, a party on Saturday afternoon.

    `hypochlorite` swaps the chlorinator for a hypochlorite pump.
    """
    bathers = BatherParams(parties=(Party(5, 15.0, 18.0, 8),), weekend_chance=0.3, weekend_bathers_max=5)
    # No more acid connected than 30 % of the alkalinity: the container is the last limit.
    acid = replace(ACID_15, container_ml=5000.0, fill_ml=5000.0)
    feeders = (HYPOCHLORITE, acid) if hypochlorite else (CellParams(), acid)
    water = WaterParams(free_chlorine_mg_l=3.4)
    return PlantParams(water, bathers=bathers, feeders=feeders, orp=OrpParams(offset_mv=6.0), ph=PhParams(offset=0.03))


def random_params(seed: int, hypochlorite: bool = False) -> PlantParams:
    """A plant that differs widely from what a plan for a 50 m3 pool would say; the same seed gives the same plant."""
    rng = Random(f"plant {seed}")
    u = rng.uniform
    water = WaterParams(
        volume_m3=50.0 * u(0.75, 1.3),
        depth_m=u(1.2, 1.8),
        free_chlorine_mg_l=u(1.5, 4.0),
        ph=u(7.3, 7.8),
        cya_mg_l=u(25.0, 80.0),
        alkalinity_mg_l=u(60.0, 120.0),
        salt_g_l=u(2.8, 4.2),
        temp_c=u(23.0, 29.0),
        attenuation_per_m=u(0.3, 1.2),
        shade=u(0.5, 1.0),
        k_ring_per_s=2.8e-5 * u(0.4, 1.8),
        k_thermal_per_day=u(0.02, 0.09),
        demand_mg_l_day=u(0.3, 1.4),
        demand_spread=u(0.05, 0.25),
        co2_transfer_cm_h=u(3.0, 9.0),
        cya_loss_mg_l_day=u(0.05, 0.3),
        exchange_per_day=u(0.0, 0.005),
        fill_alkalinity_mg_l=u(40.0, 220.0),
        mixing_s=u(500.0, 1800.0),
        leaves_mg_l_day=Random(f"leaves {seed}").uniform(0.0, 0.3),
    )
    weather = WeatherParams(
        latitude_deg=u(38.0, 52.0), mean_air_c=u(10.0, 17.0), wander_c=u(1.0, 3.0), changeable=u(0.1, 0.5), stormy=u(0.02, 0.15)
    )
    bathers = BatherParams(
        demand_g=u(3.0, 9.0),
        weekday_chance=u(0.2, 0.8),
        weekday_bathers_max=rng.randint(1, 4),
        weekend_chance=u(0.2, 0.9),
        weekend_bathers_max=rng.randint(4, 12),
    )
    orp = OrpParams(
        e0_mv=u(720.0, 800.0),
        slope_mv_decade=u(32.0, 65.0),
        ph_slope_mv=u(20.0, 40.0),
        offset_mv=rng.gauss(0.0, 10.0),
        drift_mv_day=rng.gauss(0.0, 0.3),
        fouling_per_day=u(0.0, 0.002),
        noise_mv=u(0.5, 2.0),
        wander_mv=u(1.0, 5.0),
        hydrogen_mv=u(-12.0, 0.0),
        lag_s=u(30.0, 180.0),
        lag_low_chlorine_s=u(100.0, 600.0),
    )
    ph = PhParams(rng.gauss(0.0, 0.05), u(0.9, 1.01), rng.gauss(0.0, 0.001), u(0.004, 0.012), u(15.0, 90.0))
    start_h = u(7.0, 9.5)
    return PlantParams(
        water,
        weather,
        bathers,
        orp,
        ph,
        SampleLineParams(delay_s=u(30.0, 200.0), plant_room_c=u(16.0, 32.0)),
        CirculationParams(((start_h, start_h + u(9.0, 13.0)),), power_w=u(350.0, 1100.0), prime_s=u(1.0, 15.0)),
        _random_feeders(rng, hypochlorite),
    )


def _random_feeders(rng: Random, hypochlorite: bool) -> tuple[CellParams | DosingPumpParams, ...]:
    u = rng.uniform
    cell = CellParams(output_g_h=20.0 * u(0.7, 1.1), current_a=u(4.0, 8.0), wear_per_day=u(0.0, 0.001))
    pump = replace(
        HYPOCHLORITE, rate_ml_h=600.0 * u(0.85, 1.1), strength_g_l=u(100.0, 150.0), age_days=u(0.0, 60.0), storage_c=u(18.0, 34.0)
    )
    acid = replace(ACID_15, rate_ml_h=1200.0 * u(0.85, 1.1), strength_g_l=221.0 * u(0.85, 1.05))
    return (pump, acid) if hypochlorite else (cell, acid)
