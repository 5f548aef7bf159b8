"""What a simulated pool took a day before a rehearsal begins: the history that its guards judge by.

With one figure for all pools, one that takes twice as much is cut in health, and one that takes little has too much room.
"""

from datetime import datetime, timedelta

from dosectl.core.control.params import ControlParams
from dosectl.core.control.target import band
from dosectl.core.site import Feeder, Site
from dosectl.model.feeds import Substance
from dosectl.pool_model.params import PlantParams
from dosectl.pool_model.plant import PoolPlant
from dosectl.rehearsal.season import BICARBONATE_G_PER_MG_L_M3, KEEPS_ALKALINITY_MG_L

DAYS = 14
STEP_S = 120.0
CLOSES_IN_H = 0.75  # a gap to the target is closed in so long: fed chlorine takes a quarter of an hour to mix in
ACID_ABOVE_PH, ACID_PART_MG_L, ACID_EVERY = 7.55, 1.0, 15  # a part each half hour, as a careful owner gives it


def usual_mg_l_day(site: Site, control: ControlParams, params: PlantParams, start_utc: datetime, seed: int) -> float:
    """Chlorine as its feeders' labels book it, in the fortnight before `start_utc`, by one who knows the water. [mg/L a day]

    site, control : the settings whose feeders and target hold the pool
    """
    plant = PoolPlant(params, start_utc - timedelta(days=DAYS), seed)
    volume_m3 = params.water.volume_m3
    chlorine = [feeder for feeder in site.feeders if feeder.substance is Substance.CHLORINE]
    acid = [feeder for feeder in site.feeders if feeder.substance is Substance.ACID]
    all_g_s = sum(feeder.rate_g_s for feeder in chlorine)
    booked_g = 0.0
    for number in range(round(DAYS * 86400.0 / STEP_S)):
        truth = plant.truth()
        if number % round(86400.0 / STEP_S) == 0:
            _look_after(plant, site.feeders)
        levels = dict.fromkeys((str(feeder.id) for feeder in site.feeders), 0.0)
        level = 0.0
        if truth.flow and all_g_s > 0.0:
            gap_mg_l = band(site, control, truth.cya_mg_l).mg_l - truth.free_chlorine_mg_l
            rate_mg_l_h = truth.loss_mg_l_day / 24.0 + gap_mg_l / CLOSES_IN_H
            level = min(1.0, max(0.0, rate_mg_l_h * volume_m3 / (all_g_s * 3600.0)))
            levels.update((str(feeder.id), level) for feeder in chlorine)
        if truth.flow and number % ACID_EVERY == 0 and truth.ph > ACID_ABOVE_PH:
            levels.update((str(f.id), min(1.0, ACID_PART_MG_L * volume_m3 / (f.rate_g_s * STEP_S))) for f in acid)
        plant.advance(STEP_S, levels)
        if plant.truth().fed_chlorine_g > truth.fed_chlorine_g:  # a cell in cold water gives nothing, and none would be booked
            booked_g += level * all_g_s * STEP_S
    return booked_g / volume_m3 / DAYS


def _look_after(plant: PoolPlant, feeders: tuple[Feeder, ...]) -> None:
    """Once a day: full containers, and alkalinity that the acid has room in."""
    for feeder in feeders:
        if feeder.container_ml > 0.0:
            plant.add_by_hand(f"{feeder.id}_container_ml", feeder.container_ml)
    if plant.truth().alkalinity_mg_l < KEEPS_ALKALINITY_MG_L:
        plant.add_by_hand("bicarbonate_g", BICARBONATE_G_PER_MG_L_M3 * plant.params.water.volume_m3 * 20.0)
