"""Guards of people and records: stop, service, confirmation, proof, dispensing."""

from dataclasses import replace

import pytest

from dosectl.core.interlocks.guard import FRESH
from dosectl.core.interlocks.guards import config_confirm, dispense_limit, ending, proof_gate, stop_manual, stop_service
from dosectl.model.reasons import Code, Reason
from dosectl.model.signals import STOPPING, Sample, SignalId, SignalKind
from dosectl.model.verdicts import Denial, Limit, Permit
from tests.builders import (
    ACID,
    CELL,
    a_ledger,
    a_proof,
    a_signal,
    a_site,
    a_standing,
    an_acid_pump,
    an_evidence,
    later,
    run,
    unknown,
    with_facts,
    with_reading,
    with_value,
)

SITE = a_site(more_signals=(a_signal(SignalKind.STOP_INPUT),))
HEALTHY = an_evidence(SITE)
MODULES = (config_confirm, dispense_limit, proof_gate, stop_manual, stop_service)
GUARDS = [guard for module in MODULES for guard in module.KIND.build(SITE, module.KIND.params and module.KIND.params())]
BY_HAND = Reason(Code("stop.stopped"), (), HEALTHY.now)


def the(module, feeder=ACID):
    return next(g for g in GUARDS if feeder in g.feeders and g.code == module.CODE)


def with_standing(**changes):
    return replace(HEALTHY, standing=a_standing(SITE, **changes))


@pytest.mark.parametrize("guard", GUARDS, ids=lambda g: f"{g.code}:{g.feeders}")
def test_a_healthy_pool_is_permitted_and_its_memory_settles(guard):
    verdict, memory = guard.judge(HEALTHY, FRESH)
    assert isinstance(verdict, Permit)
    again, same = guard.judge(later(HEALTHY, 60.0), memory)
    assert again is verdict
    assert same is memory


@pytest.mark.parametrize(("module", "field"), [(stop_manual, "stop"), (stop_service, "service")])
def test_a_stop_by_hand_holds_everything_until_it_is_lifted(module, field):
    guard = the(module)
    verdict, _ = guard.judge(with_standing(**{field: BY_HAND}), FRESH)
    assert verdict.latched
    assert verdict.why is BY_HAND
    assert set(guard.feeders) == {CELL, ACID}


def test_a_process_that_was_told_to_end_feeds_nothing_more():
    guard = ending.KIND.build(SITE, None)[0]
    assert isinstance(guard.judge(HEALTHY, FRESH)[0], Permit)
    told = replace(HEALTHY, health=replace(HEALTHY.health, faults=(STOPPING,)))
    verdict, memory = guard.judge(told, FRESH)
    assert isinstance(verdict, Denial)
    assert set(guard.feeders) == {CELL, ACID}
    assert isinstance(guard.judge(HEALTHY, memory)[0], Permit)


def test_a_local_stop_locks_even_if_it_was_pressed_between_two_steps():
    guard = the(stop_service)
    tap = replace(
        HEALTHY, samples=(Sample(SignalId("stop_input"), True, HEALTHY.now), Sample(SignalId("stop_input"), False, HEALTHY.now))
    )
    for evidence in (with_value(HEALTHY, "stop_input", True), tap):
        verdict, memory = guard.judge(evidence, FRESH)
        assert verdict.latched
        assert guard.judge(later(HEALTHY, 86400.0), memory)[0].latched
        assert isinstance(guard.judge(later(HEALTHY, 86400.0), replace(memory, latched=None))[0], Permit)
    assert isinstance(guard.judge(with_value(HEALTHY, "stop_input", True), replace(memory, latched=None))[0], Denial)


def test_a_local_stop_that_is_not_heard_counts_as_set_while_it_is_silent():
    verdict, memory = the(stop_service).judge(with_reading(HEALTHY, unknown("stop_input")), FRESH)
    assert isinstance(verdict, Denial)
    assert isinstance(the(stop_service).judge(HEALTHY, memory)[0], Permit)


def test_changed_settings_are_held_until_confirmed_and_ten_minutes_more():
    guard = the(config_confirm)
    changed = with_standing(confirmed=((ACID, "older"),))
    verdict, memory = guard.judge(changed, FRESH)
    assert isinstance(verdict, Denial)
    assert isinstance(the(config_confirm, CELL).judge(with_standing(confirmed=((CELL, "cell-1"),)), FRESH)[0], Permit)
    verdict, memory, evidence = run(guard, later(HEALTHY, 60.0), memory.restarted(), 599.0)
    assert isinstance(verdict, Denial)
    verdict, memory = guard.judge(later(evidence, 1.0), memory)
    assert isinstance(verdict, Permit)
    assert memory == FRESH


@pytest.mark.parametrize(
    ("change", "code"),
    [({"digest": "older"}, "proof.changed"), ({"node": "another"}, "proof.changed"), ({"simulated": True}, "proof.simulated")],
)
def test_a_proof_record_that_does_not_fit_feeds_nothing(change, code):
    evidence = with_standing(proofs=(a_proof(an_acid_pump(), **change),))
    verdict, _ = the(proof_gate).judge(evidence, FRESH)
    assert verdict.why.code == code
    assert verdict.clears_by == "record"


def test_without_a_record_only_a_person_at_the_plant_may_let_that_feeder_dispense():
    bare = with_standing(proofs=())
    assert isinstance(the(proof_gate).judge(bare, FRESH)[0], Denial)
    assert isinstance(the(proof_gate).judge(replace(bare, dispense=ACID), FRESH)[0], Permit)
    assert isinstance(the(proof_gate).judge(replace(bare, dispense=CELL), FRESH)[0], Denial)


def test_a_simulated_proof_serves_a_node_that_says_it_is_simulated_and_only_while_it_does():
    proven = with_standing(proofs=(a_proof(an_acid_pump(), simulated=True),))
    node = HEALTHY.feeders[ACID].node
    assert isinstance(the(proof_gate).judge(with_facts(proven, ACID, node=replace(node, simulated=True)), FRESH)[0], Permit)
    assert isinstance(the(proof_gate).judge(with_facts(proven, ACID, node=None), FRESH)[0], Denial)


def dispensing(evidence, booked_g):
    return replace(evidence, dispense=ACID, ledger=a_ledger(SITE, {ACID: ((evidence.clock_s, booked_g),)}))


def test_dispensing_ends_after_a_minutes_worth_and_is_refused_the_fourth_time_in_an_hour():
    guard, memory, booked_g = the(dispense_limit), FRESH, 100.0
    evidence = HEALTHY
    minute_g = 60.0 * an_acid_pump().rate_g_s
    for _ in range(3):
        verdict, memory = guard.judge(dispensing(evidence, booked_g), memory)
        assert verdict.mass_g == pytest.approx(minute_g)
        verdict, memory = guard.judge(dispensing(later(evidence, 30.0), booked_g + 0.75 * minute_g), memory)
        assert verdict.mass_g == pytest.approx(0.25 * minute_g)
        booked_g += minute_g
        verdict, memory = guard.judge(dispensing(later(evidence, 90.0), booked_g), memory)
        assert verdict.mass_g == 0.0
        evidence = later(evidence, 300.0)
        _, memory = guard.judge(evidence, memory)
    verdict, memory = guard.judge(dispensing(evidence, booked_g), memory.restarted())
    assert isinstance(verdict, Denial)
    verdict, memory = guard.judge(dispensing(later(HEALTHY, 3601.0), booked_g), memory)
    assert isinstance(verdict, Limit)
