"""An acid container that runs out while nobody is there: the pH goes up, and the chlorine stays."""

from dataclasses import replace

import pytest

from dosectl.pool_model.plant import PoolPlant
from dosectl.pool_model.scenarios import QUINCE_HOUSE_START, quince_house
from dosectl.rehearsal.loop import ClosedLoop, demo_loaded
from tests.further import further

STEP_S = 120.0


@pytest.mark.parametrize("alkalinity_mg_l", [130.0, further(80.0), further(180.0)])
def test_without_acid_a_pool_keeps_its_chlorine_by_a_good_electrode(alkalinity_mg_l: float) -> None:
    """Held to 60 and then 30 % of its usual use, for its pH alone, it lay under 1 mg/L for most of the last two weeks."""
    params = quince_house()
    water = replace(params.water, alkalinity_mg_l=alkalinity_mg_l)
    feeders = tuple(replace(feeder, fill_ml=300.0) if feeder.id == "acid" else feeder for feeder in params.feeders)
    plant = PoolPlant(replace(params, water=water, feeders=feeders), QUINCE_HOUSE_START, 3)
    loaded = demo_loaded(False, lambda text: text.replace("alkalinity_mg_l = 80", f"alkalinity_mg_l = {alkalinity_mg_l:.0f}"))
    loop = ClosedLoop.of(loaded, plant, step_s=STEP_S, use_mg_l_day=2.4)
    for quantity in ("free_chlorine", "ph"):
        loop.water_test(quantity, "drops")
    low_h, most, highest_ph, called = 0.0, 0.0, 0.0, set[str]()
    for moment in loop.run(21.0 * 24.0):
        truth = moment.truth
        low_h += STEP_S / 3600.0 * (truth.free_chlorine_mg_l < 1.0)
        most, highest_ph = max(most, truth.free_chlorine_mg_l), max(highest_ph, truth.ph)
        called |= {str(change.code) for change in moment.decision.alarms if change.change == "raised"}
    assert highest_ph > 8.2  # else nothing was tried
    assert low_h < 12.0
    assert most < 6.0
    assert {"feed.container_empty", "water.ph_high"} <= called
