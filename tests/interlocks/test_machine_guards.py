"""Guards of the controller's own machinery: start, record, bus, queue, clock, node, owner, order of messages."""

from dataclasses import replace

import pytest

from dosectl.core.interlocks.guard import FRESH, Memory
from dosectl.core.interlocks.guards import (
    bus_echo,
    clock_doubt,
    message_order,
    node_online,
    owner_foreign,
    queue_age,
    record_store,
    start_hold,
)
from dosectl.core.site import Site
from dosectl.model.reasons import Code
from dosectl.model.signals import Drop, ForeignCommand, SignalId, SignalKind
from dosectl.model.verdicts import Denial, Limit, Permit
from tests.builders import ACID, CELL, a_signal, a_site, an_evidence, later, run, unknown, with_facts, with_reading

SITE = a_site()
HEALTHY = an_evidence(SITE)
MODULES = (bus_echo, clock_doubt, message_order, node_online, owner_foreign, queue_age, record_store, start_hold)
GUARDS = [guard for module in MODULES for guard in module.KIND.build(SITE, module.KIND.params and module.KIND.params())]


def the(module, feeder=CELL, code=None):
    return next(g for g in GUARDS if feeder in g.feeders and g.code == (code or module.CODE))


@pytest.mark.parametrize("guard", GUARDS, ids=lambda guard: f"{guard.code}:{guard.feeders}")
def test_a_healthy_pool_is_permitted_and_its_memory_settles(guard):
    verdict, memory = guard.judge(HEALTHY, FRESH)
    assert isinstance(verdict, Permit)
    again, same = guard.judge(later(HEALTHY, 60.0), memory)
    assert again is verdict
    assert same is memory


def started(ago_s, *, clean=True, starts=1, fresh=1000):
    began_s = HEALTHY.clock_s - ago_s
    times = tuple(began_s - 60.0 * n for n in reversed(range(starts)))
    counts = dict.fromkeys(HEALTHY.start.fresh, fresh)
    return replace(HEALTHY, start=replace(HEALTHY.start, started_s=began_s, clean=clean, starts_s=times, fresh=counts))


@pytest.mark.parametrize(
    ("clean", "starts", "hold_s"),
    [(True, 1, 300.0), (False, 1, 900.0), (True, 2, 300.0), (True, 3, 3600.0), (False, 5, 3600.0), (True, 6, 21600.0)],
)
def test_the_hold_after_a_start_grows_with_the_starts_of_the_hour(clean, starts, hold_s):
    guard = the(start_hold)
    assert isinstance(guard.judge(started(hold_s - 1.0, clean=clean, starts=starts), FRESH)[0], Denial)
    assert isinstance(guard.judge(started(hold_s, clean=clean, starts=starts), FRESH)[0], Permit)


def test_after_a_start_ten_messages_of_flow_and_probes_are_awaited():
    guard = the(start_hold)
    assert guard.judge(started(400.0, fresh=9), FRESH)[0].why.code == "start.collecting"
    assert isinstance(guard.judge(started(400.0, fresh=10), FRESH)[0], Permit)


@pytest.mark.parametrize("signal", ["flow", "pump", "orp", "ph"])
def test_each_of_flow_pump_and_probes_is_awaited_by_itself(signal):
    young = started(400.0)
    short = replace(young, start=replace(young.start, fresh={**young.start.fresh, SignalId(signal): 9}))
    verdict, _ = the(start_hold).judge(short, FRESH)
    assert verdict.why.code == "start.collecting"
    assert verdict.why.fact("signal") == signal


def test_a_probe_that_stays_lost_does_not_hold_the_start_but_a_silent_flow_switch_does():
    guard = the(start_hold)
    young = started(400.0)
    no_orp = with_reading(
        replace(young, start=replace(young.start, fresh={**young.start.fresh, SignalId("orp"): 0})), unknown("orp")
    )
    assert isinstance(guard.judge(no_orp, FRESH)[0], Permit)
    no_flow = replace(young, start=replace(young.start, fresh={**young.start.fresh, SignalId("flow"): 0}))
    assert isinstance(guard.judge(with_reading(no_flow, unknown("flow")), FRESH)[0], Denial)


def test_a_later_start_holds_again():
    guard = the(start_hold)
    _, memory = guard.judge(HEALTHY, FRESH)
    again = later(HEALTHY, 110.0)
    again = replace(again, start=replace(again.start, started_s=again.clock_s - 10.0, starts_s=(again.clock_s - 10.0,)))
    assert isinstance(guard.judge(again, memory)[0], Denial)


@pytest.mark.parametrize("change", [{"journal_ok": False}, {"free_bytes": 199_000_000}, {"free_bytes": None}])
def test_nothing_is_fed_that_can_not_be_recorded(change):
    sick = replace(HEALTHY, health=replace(HEALTHY.health, **change))
    verdict, memory = the(record_store).judge(sick, FRESH)
    assert isinstance(verdict, Denial)
    assert isinstance(the(record_store).judge(later(HEALTHY, 5.0), memory)[0], Permit)


@pytest.mark.parametrize("change", [{"bus_alive": False}, {"echo_age_s": 16.0}, {"echo_age_s": None}])
def test_a_bus_without_its_echo_is_dead(change):
    sick = replace(HEALTHY, health=replace(HEALTHY.health, **change))
    assert isinstance(the(bus_echo).judge(sick, FRESH)[0], Denial)


@pytest.mark.parametrize("change", [{"queue_age_s": 5.1}, {"dropped_samples": 1}])
def test_old_or_dropped_messages_hold_feeding(change):
    sick = replace(HEALTHY, health=replace(HEALTHY.health, **change))
    assert isinstance(the(queue_age).judge(sick, FRESH)[0], Denial)


def on_fallback(evidence):
    return replace(evidence, standing=replace(evidence.standing, fallback_since_s=evidence.clock_s - 3600.0))


def test_a_clock_jump_holds_only_chlorine_on_the_fall_back_rate_until_fifteen_minutes_are_steady():
    guard = the(clock_doubt)
    jumped = replace(HEALTHY, clock_jump_s=10_800.0)
    verdict, memory = guard.judge(jumped, FRESH)
    assert isinstance(verdict, Permit)
    verdict, memory = guard.judge(later(on_fallback(jumped), 899.0), memory)
    assert verdict.why.code == "clock.jumped"
    assert isinstance(guard.judge(later(on_fallback(HEALTHY), 901.0), memory)[0], Permit)
    assert isinstance(the(clock_doubt, ACID).judge(on_fallback(jumped), FRESH)[0], Permit)


def test_a_clock_that_creeps_a_minute_a_day_is_doubted_and_ordinary_steering_is_not():
    guard = the(clock_doubt)
    memory = FRESH
    evidence = on_fallback(HEALTHY)
    for _ in range(70):
        evidence = replace(later(evidence, 600.0), clock_jump_s=-1.0)
        verdict, memory = guard.judge(evidence, memory)
    assert isinstance(verdict, Denial)
    memory = FRESH
    for _ in range(70):
        evidence = replace(later(evidence, 600.0), clock_jump_s=0.05)
        verdict, memory = guard.judge(evidence, memory)
    assert isinstance(verdict, Permit)


def test_an_untrusted_wall_clock_bars_the_fall_back_rate():
    sick = replace(on_fallback(HEALTHY), health=replace(HEALTHY.health, clock_trusted=False))
    assert isinstance(the(clock_doubt).judge(sick, FRESH)[0], Denial)


def test_a_plant_clock_before_its_own_start_stops_everything():
    back = replace(HEALTHY, clock_s=HEALTHY.start.started_s - 1.0)
    for feeder in (CELL, ACID):
        assert the(clock_doubt, feeder).judge(back, FRESH)[0].why.code == "clock.monotonic"


@pytest.mark.parametrize("change", [{"node": None, "node_age_s": None}, {"node_age_s": 15.5}, {"node_age_s": float("nan")}])
def test_a_silent_node_feeds_nothing(change):
    assert isinstance(the(node_online, ACID).judge(with_facts(HEALTHY, ACID, **change), FRESH)[0], Denial)


def test_a_node_that_has_just_restarted_waits():
    node = replace(HEALTHY.feeders[ACID].node, boot="n2", ms=2000)
    young = with_facts(HEALTHY, ACID, node=node, node_age_s=1.0)
    assert the(node_online, ACID).judge(young, FRESH)[0].why.code == "node.rebooted"
    steady = with_facts(HEALTHY, ACID, node=replace(node, ms=9500), node_age_s=1.0)
    assert isinstance(the(node_online, ACID).judge(steady, FRESH)[0], Permit)


def test_a_foreign_command_locks_everything_until_a_person_clears_it():
    guard = the(owner_foreign)
    foreign = (ForeignCommand("pool/feeder/acid/command", "someone", HEALTHY.now),)
    verdict, memory = guard.judge(replace(HEALTHY, foreign=foreign), FRESH)
    assert verdict.latched
    assert set(guard.feeders) == {CELL, ACID}
    verdict, memory = guard.judge(later(HEALTHY, 86400.0), memory)
    assert verdict.latched
    assert isinstance(guard.judge(HEALTHY, replace(memory, latched=None))[0], Permit)


def test_a_node_that_obeys_another_owner_locks_everything_and_a_fresh_one_does_not():
    guard = the(owner_foreign)
    node = HEALTHY.feeders[ACID].node
    verdict, memory = guard.judge(with_facts(HEALTHY, ACID, node=replace(node, owner="other")), FRESH)
    assert verdict.latched
    assert guard.judge(later(HEALTHY, 3600.0), memory)[0].latched
    assert isinstance(guard.judge(with_facts(HEALTHY, ACID, node=replace(node, owner="")), FRESH)[0], Permit)


def dropping(signal, count, why="message.repeated"):
    drop = Drop(SignalId(signal), Code(why), HEALTHY.now)
    return replace(HEALTHY, drops=(drop,) * count)


def test_ten_disordered_messages_of_the_flow_switch_stop_everything_for_ten_minutes():
    guard = the(message_order, code="messages.order")
    assert isinstance(guard.judge(dropping("flow", 9), FRESH)[0], Permit)
    verdict, memory = guard.judge(dropping("flow", 10), FRESH)
    assert isinstance(verdict, Denial)
    verdict, memory, evidence = run(guard, later(HEALTHY, 1.0), memory, 590.0, 10.0)
    assert isinstance(verdict, Denial)
    verdict, memory, _ = run(guard, evidence, memory, 20.0, 10.0)
    assert isinstance(verdict, Permit)
    assert memory == Memory()


def disordered(site: Site, signal: str) -> dict[str, str]:
    """What ten repeated messages of a signal do to each feeder: denied, limited or nothing."""
    drops = tuple(Drop(SignalId(signal), Code("message.repeated"), an_evidence(site).now) for _ in range(10))
    evidence = replace(an_evidence(site), drops=drops)
    done = {feeder.id: "" for feeder in site.feeders}
    for guard in message_order.KIND.build(site, message_order.MessageOrderParams()):
        verdict, _ = guard.judge(evidence, FRESH)
        for feeder in guard.feeders:
            done[feeder] = {Denial: "denied", Limit: "limited", Permit: done[feeder]}[type(verdict)]
    return done


@pytest.mark.parametrize(
    ("kind", "cell", "acid"),
    [
        (SignalKind.FLOW, "denied", "denied"),
        (SignalKind.PUMP, "denied", "denied"),
        (SignalKind.FEEDBACK, "denied", "denied"),
        (SignalKind.STOP_INPUT, "denied", "denied"),
        (SignalKind.WATER_PATH, "denied", "denied"),
        (SignalKind.PH, "limited", "denied"),
        (SignalKind.ORP, "limited", ""),
        (SignalKind.FREE_CHLORINE, "limited", ""),
        (SignalKind.SALT, "", ""),
    ],
)
def test_disorder_acts_for_each_kind_of_signal_as_its_loss_does(kind, cell, acid):
    site = a_site(more_signals=(a_signal(kind, "more", feeder=CELL if kind is SignalKind.FEEDBACK else None),))
    assert disordered(site, "more") == {CELL: cell, ACID: acid}


def test_disorder_counts_within_ten_minutes_only_and_not_for_unreadable_payloads():
    guard = the(message_order, code="messages.order")
    memory = FRESH
    evidence = HEALTHY
    for _ in range(40):
        evidence = replace(later(evidence, 120.0), drops=dropping("flow", 1).drops)
        verdict, memory = guard.judge(evidence, memory)
        assert isinstance(verdict, Permit)
    assert isinstance(guard.judge(dropping("flow", 50, "payload.text"), FRESH)[0], Permit)


def test_disorder_of_ph_stops_acid_and_puts_chlorine_on_the_fall_back_rate():
    evidence = dropping("ph", 12, "message.stale")
    verdict, _ = the(message_order, ACID, "messages.order.probes").judge(evidence, FRESH)
    assert isinstance(verdict, Denial)
    verdict, _ = the(message_order, CELL, "messages.order.probes").judge(evidence, FRESH)
    assert isinstance(verdict, Limit)
    assert verdict.mass_g == pytest.approx(0.6 * 2.4 * 50.0)
