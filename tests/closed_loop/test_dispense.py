"""A person lets a feeder run for some seconds to prime it or to measure its rate: judged and booked like any other feed."""

from dataclasses import replace

import pytest

from dosectl.model.feeds import FeederId, FeedOn
from dosectl.pool_model.plant import PoolPlant
from dosectl.pool_model.scenarios import QUINCE_HOUSE_START, quince_house
from dosectl.rehearsal.loop import ClosedLoop, demo_loaded

ACID = FeederId("acid")


def a_loop(proven: bool) -> ClosedLoop:
    plant = PoolPlant(quince_house(), QUINCE_HOUSE_START, 2)
    loop = ClosedLoop.of(demo_loaded(), plant, step_s=5.0, use_mg_l_day=2.4)
    if not proven:
        durable = loop.state.durable
        loop.state = replace(loop.state, durable=replace(durable, standing=replace(durable.standing, proofs=())))
    for _ in loop.run(0.3):
        pass
    return loop


def fed_by(loop: ClosedLoop, seconds: float, hours: float) -> tuple[float, set[str]]:
    """Acid fed [s of full output] by the plant's own account, and every feeder that was asked on."""
    before = loop.plant.truth().fed_acid_g
    loop.ask("dispense", (("feeder", "acid"), ("seconds", seconds)))
    on = {str(c.feeder) for m in loop.run(hours) for c in m.decision.commands if isinstance(c, FeedOn)}
    return (loop.plant.truth().fed_acid_g - before) / loop.plan.site.feeder(ACID).rate_g_s, on


def test_it_runs_as_long_as_asked_before_any_proof_exists_and_is_booked() -> None:
    loop = a_loop(proven=False)
    total_g = loop.state.durable.ledger.of(ACID).total_g
    ran_s, on = fed_by(loop, 30.0, 0.1)
    assert loop.state.durable.replies[-1].done, loop.state.durable.replies[-1]
    assert ran_s == pytest.approx(30.0, abs=2.0)
    assert on == {"acid"}
    booked_s = (loop.state.durable.ledger.of(ACID).total_g - total_g) / loop.plan.site.feeder(ACID).rate_g_s
    assert booked_s >= ran_s - 0.5


def test_without_flow_it_does_not_run_and_does_not_begin_later_by_itself() -> None:
    loop = a_loop(proven=True)
    loop.plant.set_fault("flow_lost", True)
    loop.one()
    ran_s, _ = fed_by(loop, 30.0, 0.2)
    assert ran_s < 1.0
    standing = loop.state.durable.standing
    loop.state = replace(loop.state, durable=replace(loop.state.durable, standing=replace(standing, proofs=())))
    loop.plant.set_fault("flow_lost", False)
    on = {str(c.feeder) for m in loop.run(1.0) for c in m.decision.commands if isinstance(c, FeedOn)}
    assert on == set()
