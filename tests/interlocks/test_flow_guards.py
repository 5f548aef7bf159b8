"""Flow guards: proven, settled, honest, and the hold after feeding into standing water."""

from dataclasses import replace

import pytest

from dosectl.core.interlocks.guard import FRESH, Memory
from dosectl.core.interlocks.guards import flow_gas, flow_honesty, flow_proven, flow_settle
from dosectl.core.interlocks.guards.flow_proven import FlowProven
from dosectl.model.signals import SignalKind, Status
from dosectl.model.verdicts import Denial, Permit
from tests.builders import (
    ACID,
    CELL,
    a_cell,
    a_reading,
    a_site,
    an_acid_pump,
    an_evidence,
    later,
    run,
    unknown,
    with_flow,
    with_reading,
)  # fmt: skip

SITE = a_site()
HEALTHY = an_evidence(SITE)
PROVEN = flow_proven.KIND.build(SITE, flow_proven.FlowProvenParams())[0]
SETTLE = flow_settle.KIND.build(SITE, flow_settle.FlowSettleParams())[0]
HONESTY = flow_honesty.KIND.build(SITE, flow_honesty.FlowHonestyParams())[0]
GAS_CELL, GAS_ACID = flow_gas.KIND.build(SITE, flow_gas.FlowGasParams())


@pytest.mark.parametrize("guard", [PROVEN, SETTLE, HONESTY, GAS_CELL, GAS_ACID], ids=lambda guard: guard.code)
def test_a_healthy_pool_is_permitted_and_its_memory_settles(guard):
    verdict, memory = guard.judge(HEALTHY, FRESH)
    assert isinstance(verdict, Permit)
    again, same = guard.judge(later(HEALTHY, 60.0), memory)
    assert again is verdict
    assert same is memory


@pytest.mark.parametrize(("pump", "flow"), [(False, True), (True, False), (None, True), (True, None), (None, None)])
def test_flow_needs_both_principles_at_this_moment(pump, flow):
    verdict, _ = PROVEN.judge(with_flow(HEALTHY, pump=pump, flow=flow), FRESH)
    assert isinstance(verdict, Denial)
    assert verdict.why.code == "flow.unproven"
    assert set(PROVEN.feeders) == {CELL, ACID}


def test_a_flow_reading_gone_bad_denies_even_if_the_flow_facts_say_proven():
    assert isinstance(PROVEN.judge(with_reading(HEALTHY, unknown("flow")), FRESH)[0], Denial)
    doubted = a_reading("flow", True, Status.FAILURE)  # a message that has just come, and can't be believed
    assert isinstance(PROVEN.judge(with_reading(HEALTHY, doubted), FRESH)[0], Denial)
    old = a_reading("pump", True, at_s=HEALTHY.clock_s - 10.5)
    assert isinstance(PROVEN.judge(with_reading(HEALTHY, old), FRESH)[0], Denial)


def test_a_blip_of_flow_between_two_steps_denies_in_that_step():
    blip = replace(HEALTHY, flow=replace(HEALTHY.flow, broken=True))
    assert isinstance(PROVEN.judge(blip, FRESH)[0], Denial)


def test_flow_is_proven_after_sixty_seconds_and_not_before():
    back = with_flow(HEALTHY, pump=True, flow=True, since_s=HEALTHY.clock_s - 59.0)
    verdict, memory = PROVEN.judge(back, FRESH)
    assert isinstance(verdict, Denial)
    assert verdict.why.code == "flow.proving"
    assert isinstance(PROVEN.judge(later(back, 1.0), memory)[0], Permit)


def lose_flow(evidence, memory, *, pump_off: bool, gap_s: float = 30.0):
    """Flow is lost for `gap_s` and comes back; with `pump_off` the pump reports off a second after the switch."""
    evidence = with_flow(later(evidence, 1.0), pump=True, flow=False)
    _, memory = PROVEN.judge(evidence, memory)
    evidence = with_flow(later(evidence, 1.0), pump=not pump_off, flow=False)
    _, memory, evidence = run(PROVEN, evidence, memory, gap_s)
    evidence = later(evidence, 1.0)
    evidence = with_flow(evidence, pump=True, flow=True, since_s=evidence.clock_s)
    _, memory = PROVEN.judge(evidence, memory)
    return evidence, memory


def proving_now_s(evidence, memory):
    verdict, _ = PROVEN.judge(evidence, memory)
    assert isinstance(verdict, Denial)
    return verdict.why.fact("proving_s")


def test_five_losses_within_an_hour_make_proving_longer_up_to_six_hours():
    evidence, memory = HEALTHY, PROVEN.judge(HEALTHY, FRESH)[1]
    seen = []
    for _ in range(5):
        for _ in range(5):
            evidence, memory = lose_flow(evidence, memory, pump_off=False)
        seen.append(proving_now_s(evidence, memory))
    assert seen == [600.0, 3600.0, 21600.0, 21600.0, 21600.0]


def test_losses_that_begin_and_end_between_two_steps_count_too():
    evidence, memory = HEALTHY, PROVEN.judge(HEALTHY, FRESH)[1]
    for _ in range(5):
        evidence = later(evidence, 60.0)
        evidence = replace(evidence, flow=replace(evidence.flow, since_s=evidence.clock_s - 5.0))
        _, memory = PROVEN.judge(evidence, memory)
    assert proving_now_s(evidence, memory) == 600.0


def test_a_pump_that_is_switched_off_is_no_loss_however_often():
    evidence, memory = HEALTHY, PROVEN.judge(HEALTHY, FRESH)[1]
    for _ in range(12):
        evidence, memory = lose_flow(evidence, memory, pump_off=True)
    assert proving_now_s(evidence, memory) == 60.0


def test_a_month_of_timer_stops_leaves_the_proving_time_as_it_is():
    evidence, memory = HEALTHY, FRESH
    for _ in range(30):
        _, memory, evidence = run(PROVEN, evidence, memory, 8 * 3600.0, 600.0)
        evidence = with_flow(later(evidence, 60.0), pump=False, flow=False)
        _, memory, evidence = run(PROVEN, evidence, memory, 14 * 3600.0, 600.0)
        evidence = later(evidence, 60.0)
        evidence = with_flow(evidence, pump=True, flow=True, since_s=evidence.clock_s)
        assert proving_now_s(evidence, memory) == 60.0
    assert memory.count == 0


def test_proving_falls_back_to_a_minute_after_an_hour_of_steady_flow():
    memory = Memory(since_s=HEALTHY.flow.since_s, count=1)
    verdict, memory = PROVEN.judge(HEALTHY, memory)
    assert isinstance(verdict, Permit)
    assert memory.count == 0


def test_a_pumped_chemical_never_runs_on_one_principle_but_a_cell_with_its_own_cut_out_may():
    site = a_site(signals=tuple(signal for signal in SITE.signals if signal.kind is not SignalKind.PUMP))
    guards = flow_proven.KIND.build(site, flow_proven.FlowProvenParams())
    evidence = an_evidence(site)
    verdicts = {guard.feeders: guard.judge(evidence, FRESH)[0] for guard in guards}
    assert isinstance(verdicts[(CELL,)], Permit)
    assert verdicts[(ACID,)].why.code == "flow.one_principle"
    bare = a_site(feeders=(a_cell(cell_cutout=False), an_acid_pump()), signals=site.signals)
    (guard,) = flow_proven.KIND.build(bare, flow_proven.FlowProvenParams())
    assert isinstance(guard, FlowProven)
    assert isinstance(guard.judge(evidence, FRESH)[0], Denial)


def test_feeding_waits_five_minutes_for_fresh_water_at_the_probes():
    young = with_flow(HEALTHY, pump=True, flow=True, since_s=HEALTHY.clock_s - 299.0)
    assert isinstance(SETTLE.judge(young, FRESH)[0], Denial)
    assert isinstance(SETTLE.judge(later(young, 1.0), FRESH)[0], Permit)


def test_a_long_sample_line_lengthens_the_wait_to_two_swept_volumes():
    params = flow_settle.FlowSettleParams(sample_line_l=5.0, sample_flow_l_min=0.5)
    (guard,) = flow_settle.KIND.build(SITE, params)
    young = with_flow(HEALTHY, pump=True, flow=True, since_s=HEALTHY.clock_s - 1199.0)
    assert isinstance(guard.judge(young, FRESH)[0], Denial)
    assert isinstance(guard.judge(later(young, 1.0), FRESH)[0], Permit)


@pytest.mark.parametrize("typed", [{"sample_line_l": 10.0}, {"sample_flow_l_min": 0.1}], ids=str)
def test_a_sample_line_is_a_litre_and_its_flow_a_litre_a_minute_unless_typed_otherwise(typed):
    (guard,) = flow_settle.KIND.build(SITE, flow_settle.FlowSettleParams(**typed))
    young = with_flow(HEALTHY, pump=True, flow=True, since_s=HEALTHY.clock_s - 1199.0)
    assert isinstance(guard.judge(young, FRESH)[0], Denial)
    assert isinstance(guard.judge(later(young, 1.0), FRESH)[0], Permit)


def test_a_flow_switch_stuck_at_flow_latches_a_minute_after_the_pump_stops():
    stuck = with_flow(HEALTHY, pump=False, flow=True)
    verdict, memory, evidence = run(HONESTY, stuck, FRESH, 59.0)
    assert isinstance(verdict, Permit)
    verdict, memory = HONESTY.judge(later(evidence, 1.0), memory)
    assert isinstance(verdict, Denial)
    assert verdict.latched
    running = with_flow(later(evidence, 3600.0), pump=True, flow=True)
    assert isinstance(HONESTY.judge(running, memory)[0], Denial)


def test_a_stuck_flow_switch_can_not_be_cleared_while_it_still_lies_and_can_after_an_honest_stop():
    stuck = with_flow(HEALTHY, pump=False, flow=True)
    _, memory, evidence = run(HONESTY, stuck, FRESH, 70.0)
    assert isinstance(HONESTY.judge(evidence, replace(memory, latched=None))[0], Denial)
    honest = with_flow(later(evidence, 5.0), pump=False, flow=False)
    verdict, memory = HONESTY.judge(honest, memory)
    assert isinstance(verdict, Denial)
    assert isinstance(HONESTY.judge(honest, replace(memory, latched=None))[0], Permit)


@pytest.mark.parametrize("silent", ["pump", "flow"])
def test_a_switch_is_not_called_a_liar_while_the_other_evidence_is_silent(silent):
    evidence = with_reading(with_flow(HEALTHY, pump=False, flow=True), unknown(silent))
    verdict, memory, evidence = run(HONESTY, evidence, FRESH, 300.0, 10.0)
    assert isinstance(verdict, Permit)
    both = with_flow(later(evidence, 10.0), pump=False, flow=True)
    assert isinstance(HONESTY.judge(both, memory)[0], Permit)  # the time begins when both are known


def test_a_moment_without_the_pumps_signal_does_not_excuse_a_switch_that_lies():
    lying = with_flow(HEALTHY, pump=False, flow=True)
    _, memory, evidence = run(HONESTY, lying, FRESH, 50.0, 10.0)
    _, memory = HONESTY.judge(with_reading(later(evidence, 5.0), unknown("pump")), memory)
    assert HONESTY.judge(later(evidence, 15.0), memory)[0].latched


def test_a_flow_switch_that_falls_silent_while_it_lies_neither_convicts_nor_frees_itself():
    lying = with_flow(HEALTHY, pump=False, flow=True)
    _, memory, evidence = run(HONESTY, lying, FRESH, 50.0, 10.0)
    silent = with_reading(later(evidence, 20.0), unknown("flow"))
    verdict, memory = HONESTY.judge(silent, memory)
    assert isinstance(verdict, Permit)
    assert HONESTY.judge(later(evidence, 30.0), memory)[0].latched


def test_water_running_down_after_a_pump_stop_is_no_lie():
    verdict, memory, evidence = run(HONESTY, with_flow(HEALTHY, pump=False, flow=True), FRESH, 40.0)
    verdict, memory = HONESTY.judge(with_flow(evidence, pump=False, flow=False), memory)
    assert isinstance(verdict, Permit)
    assert memory.since_s is None


@pytest.mark.parametrize(("pump", "flow"), [(False, False), (True, False)])
def test_the_reason_goes_on_naming_the_moment_of_the_loss(pump, flow):
    verdict, memory = PROVEN.judge(HEALTHY, FRESH)
    lost = with_flow(HEALTHY, pump=pump, flow=flow)
    for after_s in (0.0, 1.0, 60.0, 3600.0, 4 * 3600.0):
        verdict, memory = PROVEN.judge(later(lost, after_s), memory)
        assert isinstance(verdict, Denial)
        assert abs(verdict.why.since.since_s(HEALTHY.now)) <= 1.0
