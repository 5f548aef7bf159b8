"""The pools of the comparison: a scenario, a seed and a kind of feeder make one plant and what its owner believes of it.

Every plant differs widely in water, sun, electrode and bathers (`pool_model.scenarios.random_params`). Its feeder is sized as an
installer would: to give 1.4 to 2.2 times what this pool loses on a July day, in its pump hours. The owner types in a volume, an
output and a strength that are each wrong by some ten per cent, and the stabiliser that the first test showed; from which water a
cell gives all of its output differs from cell to cell, and is not known.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from functools import lru_cache
from random import Random

from dosectl.pool_model.params import CellParams, DosingPumpParams, Party, PlantParams
from dosectl.pool_model.plant import PoolPlant
from dosectl.pool_model.scenarios import random_params
from tests.benchmarks.control.count import target_mg_l

SUMMER = datetime(2026, 7, 1, 6, 0, tzinfo=UTC)
WARM_UP_DAYS = 14.0
SLOWEST_ML_H = 320.0
LEAST_MG_L_DAY = 2.0
LARGEST_MG_L_H = 1.4  # no larger feeder is accepted without a timer of its own
TANK_ML = 60000.0  # three weeks must fit in


@dataclass(frozen=True, slots=True)
class Scenario:
    """days : counted, after 14 days of warm-up; tested : whether the owner tests in the counted days
    at_home : False: nobody bathes in the counted days
    """

    name: str
    start: datetime
    days: float
    change: Callable[[PlantParams, Random], PlantParams]
    tested: bool = True
    at_home: bool = True


@dataclass(frozen=True, slots=True)
class Believed:
    """What the owner's settings say. Volumes in m3; output in g/h (cell); rate in mL/min and strength in g/L (pump).

    arrives : what really arrives of the chlorine that the label promises
    """

    volume_m3: float
    stabiliser_mg_l: float
    alkalinity_mg_l: float
    output_g_h: float
    rate_ml_min: float
    strength_g_l: float
    arrives: float


def _as_drawn(params: PlantParams, _rng: Random) -> PlantParams:
    return params


def _heat(params: PlantParams, rng: Random) -> PlantParams:
    """Two weeks of clear sky, four degrees above the usual, with a gathering each Saturday."""
    weather = replace(params.weather, mean_air_c=params.weather.mean_air_c + 4.0, changeable=0.03, stormy=0.0, wander_c=0.7)
    gathering = Party(5, 14.0, 19.0, rng.randint(6, 10))
    bathers = replace(params.bathers, weekday_chance=0.9, parties=(gathering,))
    return replace(
        params, weather=weather, bathers=bathers, water=replace(params.water, temp_c=29.0, shade=max(0.8, params.water.shade))
    )


def _stabilised(low: float, high: float) -> Callable[[PlantParams, Random], PlantParams]:
    def change(params: PlantParams, rng: Random) -> PlantParams:
        cya = rng.uniform(low, high)
        # Without stabiliser the open sun takes more than any home feeder gives: such pools stand in shade.
        shade = params.water.shade if cya > 5.0 else 0.1 * params.water.shade
        free = max(2.0, min(6.0, 0.05 * cya))
        return replace(params, water=replace(params.water, cya_mg_l=cya, free_chlorine_mg_l=free, shade=shade))

    return change


def _cold(params: PlantParams, _rng: Random) -> PlantParams:
    return replace(params, water=replace(params.water, temp_c=10.0))


def _drifting(params: PlantParams, rng: Random) -> PlantParams:
    drift = rng.choice((-1.0, 1.0)) * rng.uniform(0.4, 1.2)
    orp = replace(params.orp, drift_mv_day=drift, fouling_per_day=rng.uniform(0.002, 0.005))
    return replace(params, orp=orp, ph=replace(params.ph, drift_per_day=rng.choice((-1.0, 1.0)) * rng.uniform(0.001, 0.004)))


SCENARIOS: tuple[Scenario, ...] = (
    Scenario("home", datetime(2026, 5, 10, 6, 0, tzinfo=UTC), 120.0, _as_drawn),
    Scenario("away", SUMMER, 21.0, _as_drawn, tested=False, at_home=False),
    Scenario("heat", SUMMER, 14.0, _heat),
    Scenario("high", SUMMER, 30.0, _stabilised(110.0, 160.0)),
    Scenario("none", SUMMER, 30.0, _stabilised(0.0, 1.0)),
    Scenario("cold", datetime(2026, 3, 15, 6, 0, tzinfo=UTC), 30.0, _cold),
    Scenario("drift", SUMMER, 45.0, _drifting),
)


def named(name: str) -> Scenario:
    """Raises KeyError with the known names."""
    for scenario in SCENARIOS:
        if scenario.name == name:
            return scenario
    raise KeyError(f"scenario {name!r}; known are {', '.join(s.name for s in SCENARIOS)}")


def _july_day_mg_l(params: PlantParams) -> float:
    """What holding this pool at its target takes on the worst of five days in July, with chlorine and flow at will. [mg/L]"""
    water = replace(params.water, temp_c=max(26.0, params.water.temp_c))
    always = replace(params.circulation, hours=((0.0, 24.0),))
    cell = CellParams(output_g_h=3.0 * water.volume_m3, wear_per_day=0.0, salt_full_g_l=1.0, salt_stop_g_l=0.1)
    plant = PoolPlant(replace(params, water=water, circulation=always, feeders=(cell,)), SUMMER, 0)
    worst = fed = 0.0
    for hour in range(5 * 24):
        truth = plant.truth()
        lacking = target_mg_l(truth.cya_mg_l) - truth.free_chlorine_mg_l + truth.loss_mg_l_day / 24.0
        plant.advance(3600.0, {"cell": min(1.0, max(0.0, lacking / 3.0))})
        if hour % 24 == 23:
            now = plant.truth().fed_chlorine_g / water.volume_m3
            worst, fed = (max(worst, now - fed) if hour > 24 else 0.0), now
    return worst


@lru_cache(maxsize=64)
def drawn(scenario: Scenario, seed: int, pump: bool) -> tuple[PlantParams, Believed]:
    """The plant and what its owner believes. The same arguments give the same pool. `pump`: hypochlorite, else a cell."""
    rng = Random(f"comparison {scenario.name} {seed} {pump}")
    params = scenario.change(random_params(seed + 1000, hypochlorite=pump), rng)
    water = params.water
    flow_h = sum(end - begin for begin, end in params.circulation.hours)
    # g/h as Cl2; a pump pauses after each feed until it has mixed in, so that it is chosen larger
    day_mg_l = max(LEAST_MG_L_DAY, _july_day_mg_l(params)) * rng.uniform(1.4, 2.2)
    typed = rng.uniform(0.83, 1.03)  # what arrives, of what the label says
    volume = water.volume_m3 * min(1.2, max(0.8, rng.gauss(1.0, 0.1)))
    per_h = min(day_mg_l / flow_h * water.volume_m3 * (1.5 if pump else 1.0), LARGEST_MG_L_H * volume * typed)
    feeders: list[CellParams | DosingPumpParams] = []
    strength = 125.0
    for feeder in params.feeders:
        if isinstance(feeder, CellParams):
            cold = Random(f"cold cell {scenario.name} {seed}")  # labels differ, and the owner does not know his
            limit_c = cold.uniform(13.0, 17.0)
            feeders.append(replace(feeder, output_g_h=per_h, cold_limit_c=limit_c, stop_c=limit_c - cold.uniform(3.0, 6.0)))
        elif feeder.acid:
            feeders.append(feeder)
        else:
            strength = min(feeder.strength_g_l, 1000.0 * per_h / SLOWEST_ML_H)  # thinned where the pump would be too slow
            tank = replace(feeder, container_ml=TANK_ML, fill_ml=TANK_ML)
            feeders.append(replace(tank, rate_ml_h=1000.0 * per_h / strength, strength_g_l=strength))
    kit = rng.gauss(0.0, 6.0) + rng.gauss(0.0, 6.0 + 0.05 * water.cya_mg_l) if water.cya_mg_l > 5.0 else 0.0
    believed = Believed(
        volume_m3=round(volume, 0),
        stabiliser_mg_l=max(0.0, round((water.cya_mg_l + kit) / 5.0) * 5.0) if water.cya_mg_l > 5.0 else 0.0,
        alkalinity_mg_l=round(water.alkalinity_mg_l, -1),
        output_g_h=round(per_h / typed, 1),
        rate_ml_min=round(1000.0 * per_h / strength / 60.0 / typed, 2),
        strength_g_l=round(strength),
        arrives=typed,
    )
    return replace(params, feeders=tuple(feeders)), believed
