"""A loop of long steps feeds what the daemon feeds: a feed outlives a reservation that is shorter than the step.

In a small pool the acid pump uses up a reservation (0.25 mg/L) within two minutes. The daemon renews each 5 s and feeds on.
"""

from dataclasses import replace

import pytest

from dosectl.model.feeds import FeedOn
from dosectl.pool_model.plant import PoolPlant
from dosectl.pool_model.scenarios import QUINCE_HOUSE_START, quince_house
from dosectl.rehearsal.loop import ClosedLoop, demo_loaded

VOLUME_M3 = 28.0
STARTS_PH = 7.9


def _fed(step_s: float, hours: float = 6.0) -> tuple[float, int]:
    """Acid fed to a small pool of high pH [mg/L as CaCO3], and how many feeds it took."""
    params = quince_house()
    water = replace(params.water, volume_m3=VOLUME_M3, ph=STARTS_PH)
    plant = PoolPlant(replace(params, water=water), QUINCE_HOUSE_START, 3)
    loaded = demo_loaded(change=lambda text: text.replace("volume_m3 = 50.0", f"volume_m3 = {VOLUME_M3}"))
    loop = ClosedLoop.of(loaded, plant, step_s=step_s, use_mg_l_day=2.4)
    begun, on = 0, False
    for moment in loop.run(hours):
        was, on = on, any(isinstance(command, FeedOn) and command.feeder == "acid" for command in moment.decision.commands)
        begun += on and not was
    return plant.truth().fed_acid_g / VOLUME_M3, begun


def test_a_feed_outlives_its_reservation_also_where_a_step_is_longer() -> None:
    fine, fine_feeds = _fed(20.0)
    coarse, coarse_feeds = _fed(120.0)
    assert fine > 1.0  # it is fed at all
    assert coarse == pytest.approx(fine, rel=0.2)
    assert abs(coarse_feeds - fine_feeds) <= 1
