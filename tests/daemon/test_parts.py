"""Durable state to parts and back: equal, and only what changed is written."""

from dosectl.core.controller.state import Durable
from dosectl.daemon.parts import HISTORY, changed_parts, durable_from
from dosectl.pool_model.plant import PoolPlant
from dosectl.pool_model.scenarios import QUINCE_HOUSE_START, quince_house
from dosectl.rehearsal.loop import ClosedLoop, demo_loaded


def test_a_state_of_two_days_comes_back_equal() -> None:
    loop = ClosedLoop.of(demo_loaded(), PoolPlant(quince_house(), QUINCE_HOUSE_START, 1), use_mg_l_day=2.4)
    loop.water_test("free_chlorine", "drops")
    for _ in loop.run(50):
        pass
    durable = loop.state.durable
    assert durable.estimate.history, "there is a history to lose"
    parts = dict(changed_parts(None, durable))
    back = durable_from(loop.plan, parts, durable.ledger)
    assert back == durable


def test_within_an_hour_the_history_is_not_written_again() -> None:
    loop = ClosedLoop.of(demo_loaded(), PoolPlant(quince_house(), QUINCE_HOUSE_START, 1))
    before: Durable | None = None
    written = 0
    for _ in loop.run(3):
        written += HISTORY in dict(changed_parts(before, loop.state.durable))
        before = loop.state.durable
    assert 2 <= written <= 5
