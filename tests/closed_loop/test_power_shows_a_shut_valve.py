"""A stuck flow switch and a shut valve within one run of the pump: no evidence but the pump's power, if its threshold lies near.

A centrifugal pump draws less against a shut valve: three tenths less in the simulated pool (from memory, unchecked).
"""

import pytest

from dosectl.pool_model.plant import PoolPlant
from dosectl.pool_model.scenarios import QUINCE_HOUSE_START, quince_house
from dosectl.rehearsal.loop import demo_loaded
from dosectl.rehearsal.wired import WiredLoop

HALF_W, FOUR_FIFTHS_W = 300, 520  # of the 650 W that the pump draws with water flowing
HOUR_S = 3600.0


def fed_into_standing_water(on_above_w: int) -> tuple[float, set[str]]:
    """Seconds of feeding into standing water within four hours of both faults, and the alarms raised."""
    settings = demo_loaded(True, lambda text: text.replace(f"on_above_w = {HALF_W}", f"on_above_w = {on_above_w}"))
    loop = WiredLoop(settings, PoolPlant(quince_house(True), QUINCE_HOUSE_START, 7))
    for quantity in ("free_chlorine", "ph"):
        loop.water_test(quantity)
    while loop.elapsed_s < 3 * HOUR_S:
        loop.one()
    assert loop.plant.truth().flow
    before_s = loop.plant.truth().fed_without_flow_s
    loop.set_fault("flow_switch_stuck_on", True)
    loop.set_fault("flow_lost", True)
    raised: set[str] = set()
    while loop.elapsed_s < 7 * HOUR_S:
        raised |= {str(change.code) for change in loop.one().decision.alarms if change.change == "raised"}
    return loop.plant.truth().fed_without_flow_s - before_s, raised


@pytest.mark.parametrize(("on_above_w", "held"), [(HALF_W, False), (FOUR_FIFTHS_W, True)])
def test_a_threshold_of_four_fifths_of_the_pumps_power_shows_a_shut_valve_that_a_stuck_switch_hides(
    on_above_w: int, held: bool
) -> None:
    fed_s, raised = fed_into_standing_water(on_above_w)
    assert (fed_s <= 15.0) is held, fed_s
    assert ("flow.dishonest" in raised) is held, raised
