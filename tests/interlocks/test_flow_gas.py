"""Gas hold: what ran, or may have run, into standing water."""

from dataclasses import replace

import pytest

from dosectl.core.interlocks.guard import FRESH
from dosectl.core.interlocks.guards import flow_gas
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


def unheard(evidence, *, pump=False, flow=False, ends_s):
    """Asked off when the water stopped, its load not heard since."""
    still = with_flow(evidence, pump=pump, flow=flow)
    return with_facts(
        still, ACID, running=None, asked_on=False, asked_off_since_s=HEALTHY.clock_s, feedback_on_since_s=None, life_ends_s=ends_s
    )


def test_a_load_that_falls_silent_as_the_water_stops_is_called_once_its_command_is_over():
    ends_s = HEALTHY.clock_s + 9.0
    memory = FRESH
    for after_s in range(9):
        verdict, memory = GAS_ACID.judge(unheard(later(HEALTHY, after_s), ends_s=ends_s), memory)
        assert isinstance(verdict, Permit)  # it may still be heard
    for after_s in (9.0, 60.0, 3600.0):
        verdict, memory = GAS_ACID.judge(unheard(later(HEALTHY, after_s), ends_s=ends_s), memory)
        assert verdict.why.code == "flow.gas_unheard"
        assert verdict.why.fact("ran_s") == 9.0
        assert not verdict.latched
        assert set(GAS_ACID.feeders) == {CELL, ACID}
    off = with_facts(unheard(later(HEALTHY, 3700.0), ends_s=ends_s), ACID, running=False)
    verdict, memory = GAS_ACID.judge(off, memory)
    assert verdict.why.code == "flow.gas_unheard"  # off now says nothing of those nine seconds
    verdict, memory = GAS_ACID.judge(with_flow(later(off, 10.0), pump=True, flow=True), memory)
    assert isinstance(verdict, Permit)
    assert memory == FRESH


def test_a_load_that_was_heard_running_as_the_water_stopped_and_then_no_more_is_called_too():
    dry = with_flow(feeding(HEALTHY, ACID), pump=True, flow=False)
    _, memory = GAS_ACID.judge(dry, FRESH)
    verdict, memory = GAS_ACID.judge(unheard(later(HEALTHY, 15.0), ends_s=HEALTHY.clock_s + 9.0), memory)
    assert verdict.why.code == "flow.gas_unheard"


def test_a_load_that_shows_off_before_its_command_is_over_is_not_called():
    ends_s = HEALTHY.clock_s + 9.0
    _, memory = GAS_ACID.judge(unheard(HEALTHY, ends_s=ends_s), FRESH)
    _, memory = GAS_ACID.judge(with_facts(unheard(later(HEALTHY, 3.0), ends_s=ends_s), ACID, running=False), memory)
    verdict, memory = GAS_ACID.judge(unheard(later(HEALTHY, 60.0), ends_s=ends_s), memory)
    assert isinstance(verdict, Permit)
    assert memory == FRESH


def test_an_unheard_load_whose_command_had_no_longer_to_live_than_is_let_run_is_not_called():
    _, memory = GAS_ACID.judge(unheard(HEALTHY, ends_s=HEALTHY.clock_s + 2.0), FRESH)
    verdict, memory = GAS_ACID.judge(unheard(later(HEALTHY, 60.0), ends_s=HEALTHY.clock_s + 2.0), memory)
    assert isinstance(verdict, Permit)
    assert memory == FRESH


def test_a_load_still_unheard_is_awaited_while_the_feeder_is_asked_on():
    asked = with_facts(unheard(HEALTHY, ends_s=HEALTHY.clock_s + 9.0), ACID, asked_on=True)
    verdict, memory = GAS_ACID.judge(asked, FRESH)
    verdict, memory = GAS_ACID.judge(later(asked, 20.0), memory)
    assert isinstance(verdict, Permit)
    assert memory.until_s is None


@pytest.mark.parametrize(("heard_after_s", "called"), [(30.0, True), (60.0, True), (61.0, False), (7200.0, False)])
def test_a_link_that_fails_in_a_feed_is_called_only_where_the_flow_is_soon_heard_to_be_lost(heard_after_s, called):
    """A link that is back after hours finds a pump that its clock has stopped: nothing of a feed into standing water."""
    ends_s = HEALTHY.clock_s + 9.0
    memory = FRESH
    for after_s in (0.0, 10.0, 29.0):
        verdict, memory = GAS_ACID.judge(unheard(later(HEALTHY, after_s), pump=None, flow=None, ends_s=ends_s), memory)
        assert isinstance(verdict, Permit)
    verdict, memory = GAS_ACID.judge(unheard(later(HEALTHY, heard_after_s), ends_s=ends_s), memory)
    assert isinstance(verdict, Denial) is called
    back = with_flow(later(HEALTHY, heard_after_s + 60.0), pump=True, flow=True)
    assert GAS_ACID.judge(back, memory) == (GAS_ACID.permit, FRESH)


def test_a_flow_that_was_heard_to_be_lost_before_all_fell_silent_is_enough():
    ends_s = HEALTHY.clock_s + 9.0
    _, memory = GAS_ACID.judge(unheard(HEALTHY, ends_s=ends_s), FRESH)
    verdict, memory = GAS_ACID.judge(unheard(later(HEALTHY, 300.0), pump=None, flow=None, ends_s=ends_s), memory)
    assert verdict.why.code == "flow.gas_unheard"


def test_a_load_that_comes_back_running_latches():
    ends_s = HEALTHY.clock_s + 9.0
    _, memory = GAS_ACID.judge(unheard(HEALTHY, ends_s=ends_s), FRESH)
    _, memory = GAS_ACID.judge(unheard(later(HEALTHY, 30.0), ends_s=ends_s), memory)
    runs = with_flow(feeding(later(HEALTHY, 40.0), ACID), pump=False, flow=False)
    assert GAS_ACID.judge(runs, memory)[0].latched


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
