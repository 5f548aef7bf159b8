"""A redox value that repeats itself exactly for a day is no measurement: control falls back, and nothing is learnt of it."""

from datetime import UTC, datetime

from dosectl.pool_model.plant import PoolPlant
from dosectl.pool_model.scenarios import quince_house
from dosectl.rehearsal.loop import ClosedLoop, demo_loaded


def test_a_frozen_redox_probe_falls_back_after_a_day_and_the_stated_doubt_opens() -> None:
    plant = PoolPlant(quince_house(), datetime(2026, 7, 1, 6, 0, tzinfo=UTC), 3)
    loop = ClosedLoop.of(demo_loaded(), plant, step_s=120.0)
    *_, _ = loop.run(2.0)
    loop.water_test("free_chlorine", "drops")
    *_, sound = loop.run(70.0)
    loop.water_test("free_chlorine", "drops")
    assert not sound.decision.control.fallback
    plant.set_fault("orp_stuck", True)
    *_, doubted = loop.run(30.0)
    seen_s = doubted.state.durable.estimate.orp_seen_s
    for moment in loop.run(96.0):
        assert moment.decision.control.fallback
    water, estimate = moment.decision.water, moment.state.durable.estimate
    assert estimate.orp_seen_s == seen_s
    assert water.low95_mg_l <= moment.truth.free_chlorine_mg_l <= water.high95_mg_l
    assert water.high95_mg_l > 3.0 * water.low95_mg_l
