"""Gas hold: what ran, or may have run, into standing water."""

from dataclasses import replace

import pytest

from dosectl.core.interlocks.guard import FRESH
from dosectl.core.interlocks.guards import flow_gas
from dosectl.model.signals import Status
from dosectl.model.verdicts import Denial, Permit
from tests.builders import (
    ACID,
    CELL,
    a_reading,
    a_site,
    an_evidence,
    feeding,
    later,
    run,
    with_facts,
    with_flow,
    with_reading,
)  # fmt: skip

SITE = a_site()
HEALTHY = an_evidence(SITE)
GAS_CELL, GAS_ACID = flow_gas.KIND.build(SITE, flow_gas.FlowGasParams())


def test_a_pump_fed_into_standing_water_for_more_than_two_seconds_latches_everything():
    dry = with_flow(feeding(HEALTHY, ACID), pump=True, flow=False)
    verdict, memory = GAS_ACID.judge(dry, FRESH)
    assert verdict.why.code == "flow.running_dry"
    assert not verdict.latched
    verdict, memory, evidence = run(GAS_ACID, dry, memory, 3.0)
    assert verdict.latched
    assert verdict.why.code == "flow.gas_hold"
    assert set(GAS_ACID.feeders) == {CELL, ACID}
    calm = with_facts(with_flow(later(evidence, 3600.0), pump=True, flow=True), ACID, running=False)
    verdict, memory = GAS_ACID.judge(calm, memory)
    assert verdict.latched
    assert isinstance(GAS_ACID.judge(calm, replace(memory, latched=None))[0], Permit)


@pytest.mark.parametrize(("pump", "flow"), [(True, None), (None, True), (None, None)])
def test_a_feeder_that_runs_while_nobody_knows_of_any_flow_latches_too_some_seconds_later(pump, flow):
    """A flow switch whose node died says nothing of the water; after a start a feed of the run before may end by itself first."""
    blind = with_flow(feeding(HEALTHY, ACID), pump=pump, flow=flow)
    verdict, memory = GAS_ACID.judge(blind, FRESH)
    assert verdict.why.code == "flow.running_unproven"
    verdict, memory, evidence = run(GAS_ACID, blind, memory, 17.0)
    assert not verdict.latched
    verdict, memory = GAS_ACID.judge(later(evidence, 1.0), memory)
    assert verdict.latched
    assert verdict.why.code == "flow.gas_hold"


def test_feedback_that_is_lost_with_the_flow_is_no_feed_into_standing_water():
    dry = with_facts(with_flow(HEALTHY, pump=False, flow=False), ACID, running=None, feedback_on_since_s=None)
    for wait_s in (0.0, 5.0, 60.0):
        verdict, memory = GAS_ACID.judge(later(dry, wait_s), FRESH)
        assert isinstance(verdict, Permit)
        assert memory.latched is None


def stopped(after_s, *, pump=False, flow=False, ends_s=9.0, last=True, heard_s=0.0, node_s=None, obeyed=7):
    """Asked off `after_s` ago as the water stopped. The load said `last` when it was heard last, `heard_s` after that; the node
    was heard `node_s` after it, now where None, and has obeyed the command of that number: 7 was the last ON."""
    at_s = HEALTHY.clock_s
    still = with_flow(later(HEALTHY, after_s), pump=pump, flow=flow)
    old = replace(a_reading("acid_feedback", last, at_s=at_s + heard_s), status=Status.UNKNOWN, value=None)
    facts = with_facts(
        still, ACID, running=None, asked_on=after_s == 0.0, asked_off_since_s=at_s if after_s else None,
        feedback_on_since_s=None, life_ends_s=at_s + ends_s,
        node_age_s=1.0 if node_s is None else after_s - node_s, command_no=8 if after_s else 7, node_no=obeyed,
    )  # fmt: skip
    return with_reading(facts, old)


def looked_at(*evidences, memory=FRESH):
    """The last verdict, and the memory after it."""
    verdict = None
    for evidence in evidences:
        verdict, memory = GAS_ACID.judge(evidence, memory)
    return verdict, memory


def test_a_load_that_falls_silent_as_the_water_stops_is_called_once_its_command_is_over():
    memory = FRESH
    for after_s in range(9):
        verdict, memory = GAS_ACID.judge(stopped(after_s), memory)
        assert isinstance(verdict, Permit)  # it may still be heard
    for after_s in (9.0, 60.0, 3600.0):
        verdict, memory = GAS_ACID.judge(stopped(after_s), memory)
        assert verdict.why.code == "flow.gas_unheard"
        assert verdict.why.fact("ran_s") == 9.0
        assert not verdict.latched
        assert set(GAS_ACID.feeders) == {CELL, ACID}
    off = with_facts(stopped(3700.0), ACID, running=False)
    verdict, memory = GAS_ACID.judge(off, memory)
    assert verdict.why.code == "flow.gas_unheard"  # off now says nothing of those nine seconds
    verdict, memory = GAS_ACID.judge(with_flow(later(off, 10.0), pump=True, flow=True), memory)
    assert isinstance(verdict, Permit)
    assert memory == FRESH


def test_a_load_that_was_heard_running_as_the_water_stopped_and_then_no_more_is_called_too():
    dry = with_facts(with_flow(feeding(HEALTHY, ACID), pump=True, flow=False), ACID, life_ends_s=HEALTHY.clock_s + 9.0)
    verdict, _ = looked_at(dry, stopped(15.0))
    assert verdict.why.code == "flow.gas_unheard"


def test_a_load_that_shows_off_before_its_command_is_over_is_not_called():
    off = with_facts(stopped(3.0), ACID, running=False)
    verdict, memory = looked_at(stopped(0.0), off, stopped(60.0, last=False, heard_s=3.0))
    assert isinstance(verdict, Permit)
    assert memory == FRESH


def test_a_load_that_went_off_with_the_water_is_not_called_however_rarely_it_speaks():
    """A flow contact in series ends it in the same instant: its "off" is no newer than our OFF, so it is no feedback of that."""
    for after_s in (0.0, 1.0, 9.0, 60.0, 7200.0):
        verdict, memory = GAS_ACID.judge(stopped(after_s, last=False), FRESH)
        assert isinstance(verdict, Permit)
        assert memory == FRESH


@pytest.mark.parametrize(("first", "then"), [(None, None), (True, None), (None, True)])
def test_a_load_of_which_no_word_is_on_record_is_not_taken_to_have_ended(first, then):
    verdict, _ = looked_at(stopped(0.0, last=first), stopped(9.0, last=then))
    assert verdict.why.code == "flow.gas_unheard"


def test_a_node_that_says_in_time_that_it_has_obeyed_the_off_tells_of_the_end():
    """A meter on the pump's circuit goes with the pump, and the node does not."""
    verdict, memory = looked_at(stopped(0.0), stopped(2.0, obeyed=8), stopped(3600.0, obeyed=8))
    assert isinstance(verdict, Permit)
    assert memory == FRESH


def test_a_node_that_says_so_only_when_the_command_was_over_tells_nothing_of_it():
    silent = (stopped(after_s, node_s=0.0) for after_s in (0.0, 9.0, 30.0))
    verdict, _ = looked_at(*silent, stopped(31.0, obeyed=8))
    assert verdict.why.code == "flow.gas_unheard"


def test_a_node_that_started_anew_before_the_loss_was_noticed_was_without_power_too():
    """All power goes; what is silent is noticed seconds later, when the node runs again."""
    quiet = [stopped(after_s, pump=None, flow=None, heard_s=-8.0) for after_s in (0.0, 12.0)]
    dark = [with_facts(q, ACID, node=replace(q.feeders[ACID].node, ms=4000 + 1000 * i)) for i, q in enumerate(quiet)]
    verdict, memory = looked_at(
        *dark, with_facts(stopped(25.0, heard_s=-8.0), ACID, node=replace(dark[0].feeders[ACID].node, ms=28000))
    )
    assert isinstance(verdict, Permit)
    assert memory == FRESH


def test_an_on_heard_after_the_command_was_over_does_not_end_the_call():
    quiet = [stopped(after_s, pump=None, flow=None) for after_s in (0.0, 10.0)]
    heard = with_facts(
        with_flow(later(HEALTHY, 20.0), pump=None, flow=None), ACID, running=True, life_ends_s=HEALTHY.clock_s + 9.0
    )
    verdict, _ = looked_at(*quiet, heard, stopped(40.0, heard_s=20.0))
    assert verdict.why.code == "flow.gas_unheard"
    assert verdict.why.fact("ran_s") == 20.0


def test_a_node_that_falls_silent_with_its_load_is_awaited():
    verdict, memory = looked_at(*(stopped(after_s, node_s=0.0) for after_s in (0.0, 9.0, 60.0, 3600.0)))
    assert isinstance(verdict, Permit)  # pump, node and meter on one circuit: who switches the pump off cuts them all
    back, _ = GAS_ACID.judge(stopped(3601.0), memory)
    assert back.why.code == "flow.gas_unheard"  # it was alive, and so was what it had switched on


def test_a_node_that_has_started_anew_since_the_water_stopped_was_without_power():
    _, memory = looked_at(*(stopped(after_s, node_s=0.0) for after_s in (0.0, 9.0, 3600.0)))
    back = stopped(3601.0)
    node = replace(back.feeders[ACID].node, boot="n2", ms=4000)
    verdict, memory = GAS_ACID.judge(with_facts(back, ACID, node=node), memory)
    assert isinstance(verdict, Permit)
    assert memory == FRESH


def test_an_unheard_load_whose_command_had_no_longer_to_live_than_is_let_run_is_not_called():
    verdict, memory = looked_at(stopped(0.0, ends_s=2.0), stopped(60.0, ends_s=2.0))
    assert isinstance(verdict, Permit)
    assert memory == FRESH


def test_a_load_still_unheard_is_awaited_while_the_feeder_is_asked_on():
    verdict, memory = looked_at(*(with_facts(stopped(after_s), ACID, asked_on=True) for after_s in (0.0, 20.0)))
    assert isinstance(verdict, Permit)
    assert memory.until_s is None


@pytest.mark.parametrize(("heard_after_s", "called"), [(30.0, True), (60.0, True), (61.0, False), (7200.0, False)])
def test_a_link_that_fails_in_a_feed_is_called_only_where_the_flow_is_soon_heard_to_be_lost(heard_after_s, called):
    """A link that is back after hours finds a pump that its clock has stopped: nothing of a feed into standing water."""
    verdict, memory = looked_at(*(stopped(after_s, pump=None, flow=None) for after_s in (0.0, 10.0, 29.0)))
    assert isinstance(verdict, Permit)
    verdict, memory = GAS_ACID.judge(stopped(heard_after_s), memory)
    assert isinstance(verdict, Denial) is called
    back = with_flow(later(HEALTHY, heard_after_s + 60.0), pump=True, flow=True)
    assert GAS_ACID.judge(back, memory) == (GAS_ACID.permit, FRESH)


def test_a_flow_that_was_heard_to_be_lost_before_all_fell_silent_is_enough():
    verdict, _ = looked_at(stopped(0.0), stopped(1.0), stopped(300.0, pump=None, flow=None))
    assert verdict.why.code == "flow.gas_unheard"


def test_a_load_that_comes_back_running_latches():
    _, memory = looked_at(with_flow(feeding(HEALTHY, ACID), pump=False, flow=False), stopped(30.0))
    runs = with_flow(feeding(later(HEALTHY, 40.0), ACID), pump=False, flow=False)
    assert GAS_ACID.judge(runs, memory)[0].latched


def test_a_load_heard_running_now_and_then_after_its_command_was_over_latches():
    """A welded relay, and a link that loses nine messages of ten: what was heard is not forgotten for want of hearing more."""
    memory = FRESH
    for after_s in (20.0, 34.0):
        runs = with_flow(feeding(later(HEALTHY, after_s), ACID), pump=False, flow=False)
        verdict, memory = looked_at(with_facts(runs, ACID, asked_on=False, life_ends_s=HEALTHY.clock_s), memory=memory)
        _, memory = looked_at(stopped(after_s + 12.0, ends_s=0.0), memory=memory)
    assert verdict.latched


def test_a_moment_without_feedback_does_not_begin_the_time_without_flow_anew():
    dry = with_flow(feeding(HEALTHY, ACID), pump=True, flow=False)
    _, memory = GAS_ACID.judge(dry, FRESH)
    _, memory, evidence = run(GAS_ACID, dry, memory, 1.5, 0.5)
    _, memory = GAS_ACID.judge(with_facts(later(evidence, 0.5), ACID, running=None), memory)
    again = with_reading(later(evidence, 1.0), a_reading("acid_feedback", True, at_s=evidence.clock_s + 1.0))
    assert GAS_ACID.judge(with_facts(again, ACID, running=True), memory)[0].latched


def test_a_feeder_that_stops_with_the_flow_clears_by_itself():
    dry = with_flow(feeding(HEALTHY, ACID), pump=False, flow=False)
    _, memory, evidence = run(GAS_ACID, dry, FRESH, 1.0)
    verdict, memory = GAS_ACID.judge(with_facts(later(evidence, 1.0), ACID, running=False), memory)
    assert isinstance(verdict, Permit)
    assert memory.since_s is None


def test_a_late_off_message_is_not_taken_for_a_running_feeder():
    dry = with_flow(feeding(HEALTHY, ACID), pump=False, flow=False)
    _, memory = GAS_ACID.judge(dry, FRESH)
    late = with_reading(later(dry, 3.0), a_reading("acid_feedback", True, at_s=dry.clock_s))
    verdict, _ = GAS_ACID.judge(late, memory)
    assert not verdict.latched


def test_a_cell_has_a_minute():
    dry = with_flow(feeding(HEALTHY, CELL), pump=False, flow=False)
    verdict, memory, evidence = run(GAS_CELL, dry, FRESH, 60.0)
    assert not verdict.latched
    verdict, _ = GAS_CELL.judge(later(evidence, 1.0), memory)
    assert verdict.latched
