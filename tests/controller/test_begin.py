"""How a run begins: off-time ages the windows of limits only where both clocks could be trusted; a crash books in full."""

from dataclasses import replace

import pytest

from dosectl.core.controller.begin import StartOf, begin, fresh_durable
from dosectl.core.controller.state import Durable
from dosectl.core.controller.step import step
from dosectl.model.feeds import FeederId, Substance
from dosectl.model.ledger import Debit
from dosectl.pool_model.plant import PoolPlant
from dosectl.pool_model.scenarios import QUINCE_HOUSE_START, quince_house
from dosectl.rehearsal.loop import ClosedLoop, demo_loaded, plan_of

CELL = FeederId("cell")
DAY_S = 86_400.0


def kept(trusted: bool) -> Durable:
    """A state of a run that fed 100 g, with its wall clock trusted or not."""
    loop = ClosedLoop.of(demo_loaded(), PoolPlant(quince_house(), QUINCE_HOUSE_START, 1))
    loop.health = replace(loop.health, clock_trusted=trusted)
    for _ in loop.run(0.2):
        pass
    durable = loop.state.durable
    book = durable.ledger.of(CELL).with_open(Debit(1, CELL, 0.0, 700.0, 100.0)).closed(700.0, None)
    return replace(durable, ledger=durable.ledger.with_feeder(book))


def started(durable: Durable, off_s: float) -> float:
    """What the last 24 h hold after a start that follows so many seconds of off-time [g]."""
    plan = plan_of(demo_loaded(), 60.0)
    loop = ClosedLoop.of(demo_loaded(), PoolPlant(quince_house(), QUINCE_HOUSE_START, 1))
    state = begin(plan, durable, StartOf(loop.state.working.last, off_s, clean=True))
    return state.durable.ledger.of(CELL).window_g(state.durable.clocks.clock_s, DAY_S)


def test_trusted_off_time_ages_the_windows() -> None:
    assert started(kept(trusted=True), 10.0) == pytest.approx(100.0)
    assert started(kept(trusted=True), 2 * DAY_S) == 0.0


def test_off_time_reckoned_from_a_clock_that_was_wrong_before_counts_as_none() -> None:
    """A board without a battery clock runs in the year 2000, crashes, gets network time, and starts: no 26 years have passed."""
    assert started(kept(trusted=False), 26 * 365 * DAY_S) == pytest.approx(100.0)


def test_off_time_never_goes_back() -> None:
    assert started(kept(trusted=True), -5.0) == pytest.approx(100.0)


def test_a_reservation_left_open_by_a_crash_is_booked_in_full() -> None:
    durable = kept(trusted=True)
    book = durable.ledger.of(CELL).with_open(Debit(9, CELL, 710.0, 720.0, 12.5, 1.0))
    assert started(replace(durable, ledger=durable.ledger.with_feeder(book)), 0.0) == pytest.approx(112.5)


def test_a_feeder_that_is_new_in_the_plan_begins_at_nothing_and_one_that_left_is_kept() -> None:
    plan = plan_of(demo_loaded(hypochlorite=True), 60.0)
    durable = kept(trusted=True)
    state = begin(
        plan,
        durable,
        StartOf(ClosedLoop.of(demo_loaded(), PoolPlant(quince_house(), QUINCE_HOUSE_START, 1)).state.working.last, 0.0, True),
    )
    feeders = {entry.feeder: entry.total_g for entry in state.durable.ledger.feeders}
    assert feeders["hypo"] == 0.0
    assert feeders["cell"] == pytest.approx(100.0)


def test_numbers_of_commands_go_on_above_those_a_crash_may_have_kept_from_the_record() -> None:
    plan = plan_of(demo_loaded(), 60.0)
    durable = fresh_durable(plan)
    durable = replace(durable, clocks=replace(durable.clocks, command_no=500))
    last = ClosedLoop.of(demo_loaded(), PoolPlant(quince_house(), QUINCE_HOUSE_START, 1)).state.working.last
    state = begin(plan, durable, StartOf(last, 0.0, clean=False))
    assert min(item.command_no for item in state.working.dispatch.values()) >= 1500
    assert Substance.CHLORINE in {feeder.substance for feeder in plan.site.feeders}


def test_numbers_go_on_above_what_a_node_has_obeyed_and_a_first_start_claims_none() -> None:
    """A node takes no number that it knows: after a lost record every ON would be refused as an old one."""
    plan = plan_of(demo_loaded(), 60.0)
    loop = ClosedLoop.of(demo_loaded(), PoolPlant(quince_house(), QUINCE_HOUSE_START, 1))
    state = begin(plan, None, StartOf(loop.state.working.last, 0.0, clean=True))
    assert {item.command_no for item in state.working.dispatch.values()} == {0}
    moment = loop.one()
    (report,) = moment.snapshot.nodes
    told = replace(report, numbers=(("cell", 2402), ("acid", 7)))
    after, decision = step(plan, state, replace(moment.snapshot, nodes=(told,)))
    assert after.working.dispatch[CELL].command_no >= 2402
    assert after.durable.clocks.command_no >= 2402
    assert {str(guard.guard) for guards in decision.objections.values() for guard in guards} >= {"record.gap"}
    other = replace(report, owner="another", numbers=(("cell", 2402),))
    after, decision = step(plan, state, replace(moment.snapshot, nodes=(other,)))
    assert after.working.dispatch[CELL].command_no < 2402
    assert "record.gap" not in {str(guard.guard) for guards in decision.objections.values() for guard in guards}


def test_what_was_fed_months_ago_is_still_known_after_a_start() -> None:
    """The acid since the last alkalinity test, and what a container gave since its refill, are asked for over that long."""
    durable, plan = kept(trusted=True), plan_of(demo_loaded(), 60.0)
    first = durable.ledger.of(CELL)
    clock_s = 100 * DAY_S
    durable = replace(
        durable,
        clocks=replace(durable.clocks, clock_s=clock_s),
        ledger=durable.ledger.with_feeder(first.with_open(Debit(2, CELL, clock_s, clock_s, 7.0)).closed(clock_s, None)),
    )
    loop = ClosedLoop.of(demo_loaded(), PoolPlant(quince_house(), QUINCE_HOUSE_START, 1))
    state = begin(plan, durable, StartOf(loop.state.working.last, 0.0, clean=True))
    assert state.durable.ledger.of(CELL).window_g(clock_s, clock_s) == pytest.approx(107.0)
    assert state.durable.ledger.of(CELL).window_g(clock_s, DAY_S) == pytest.approx(7.0)
