"""The coming nights begin as high as the plan raises them, in water whose laws are not our own."""

from statistics import fmean

import pytest

from dosectl.core.advice.feeding import with_record
from dosectl.core.advice.forecast import ahead
from dosectl.model.feeds import Substance
from dosectl.rehearsal.loop import ClosedLoop, demo_loaded
from tests.closed_loop.test_other_water import ToyPlant
from tests.further import further


@pytest.mark.parametrize("seed", [1, further(2)])
def test_a_night_is_foretold_as_the_plan_goes_into_it(seed: int) -> None:
    plant = ToyPlant(seed)
    loop = ClosedLoop.of(demo_loaded(), plant, use_mg_l_day=2.4)
    loop.water_test("free_chlorine", "drops")
    for _ in loop.run(4 * 24.0 + 12.0):
        pass
    durable, plan = loop.state.durable, loop.plan
    record = (durable.standing, durable.barred, durable.ledger, durable.tests, durable.clocks.clock_s)
    allowed = with_record((5.0, 1.0), plan.site, *record)
    hours = ahead(
        *(plan.site, plan.estimate, plan.control, durable.estimate, durable.habit, durable.standing, plant.utc, 48, allowed)
    )
    by_night: list[float] = []
    fed_g = durable.ledger.total_g(Substance.CHLORINE)
    for hour in hours:
        view = loop.state.working.view
        if not hour.flows:
            by_night.append(hour.free_chlorine_mg_l - view.free_chlorine_mg_l)
        for _ in loop.run(1.0):
            pass
    assert len(by_night) > 20
    assert abs(fmean(by_night)) < 0.2
    fed = (loop.state.durable.ledger.total_g(Substance.CHLORINE) - fed_g) / plan.site.pool.volume_m3
    assert sum(hour.fed_mg_l for hour in hours) == pytest.approx(fed, rel=0.2)
