"""Guards of the feeders and what hangs on them: containers, feedback, response, siphons, cold, salt, power, path."""

from dataclasses import replace
from datetime import timedelta

import pytest

from dosectl.core.interlocks.guard import FRESH, Memory
from dosectl.core.interlocks.guards import (
    acid_response,
    cell_power,
    change_unfed,
    chlorine_response,
    cold_water,
    container_level,
    cover_closed,
    feeder_runs,
    feeder_still,
    feeder_unseen,
    salt_level,
    water_path,
    wrong_way,
)
from dosectl.model.signals import SignalKind, Status
from dosectl.model.verdicts import Denial, Limit, Permit
from dosectl.model.water_tests import Quantity
from tests.builders import (
    ACID,
    CELL,
    CLOCK_S,
    a_cell,
    a_ledger,
    a_reading,
    a_signal,
    a_site,
    a_standing,
    a_test,
    an_acid_pump,
    an_evidence,
    feeding,
    later,
    run,
    unknown,
    with_facts,
    with_reading,
    with_value,
)

HOUR_S = 3600.0
LEVEL = a_signal(SignalKind.LEVEL, "acid_level", feeder=ACID)
SITE = a_site(
    feeders=(a_cell(), an_acid_pump(level=LEVEL.id)),
    more_signals=(
        LEVEL,
        a_signal(SignalKind.COVER),
        a_signal(SignalKind.SALT),
        a_signal(SignalKind.CELL_CURRENT, feeder=CELL),
        a_signal(SignalKind.CELL_VOLTAGE, feeder=CELL),
        a_signal(SignalKind.WATER_PATH),
    ),
)
HEALTHY = an_evidence(SITE)
POWER = cell_power.CellPowerParams(expected_a=5.0, volts_max=28.0)
MODULES = (
    acid_response,
    change_unfed,
    chlorine_response,
    cold_water,
    container_level,
    cover_closed,
    feeder_runs,
    feeder_still,
    feeder_unseen,
    salt_level,
    water_path,
    wrong_way,
)
GUARDS = [guard for module in MODULES for guard in module.KIND.build(SITE, module.KIND.params and module.KIND.params())]
GUARDS += cell_power.KIND.build(SITE, POWER)


def the(code, feeder=ACID):
    return next(g for g in GUARDS if feeder in g.feeders and g.code == code)


@pytest.mark.parametrize("guard", GUARDS, ids=lambda g: f"{g.code}:{g.feeders}")
def test_a_healthy_pool_is_permitted_and_its_memory_settles(guard):
    _, memory = guard.judge(HEALTHY, FRESH)
    verdict, memory = guard.judge(HEALTHY, memory)
    assert isinstance(verdict, Permit)
    again, same = guard.judge(HEALTHY, memory)
    assert again is verdict
    assert same is memory


def test_an_empty_container_stops_its_feeder_after_ten_seconds_until_it_is_refilled():
    guard = the("container.level")
    _, memory = guard.judge(HEALTHY, FRESH)
    verdict, memory, evidence = run(guard, with_value(HEALTHY, "acid_level", False), memory, 9.0)
    assert isinstance(verdict, Permit)
    verdict, memory = guard.judge(later(evidence, 1.0), memory)
    assert verdict.clears_by == "refill"
    silent = with_reading(later(evidence, 10.0), unknown("acid_level"))
    assert isinstance(guard.judge(silent, memory)[0], Denial)
    verdict, memory, _ = run(guard, with_value(later(evidence, 20.0), "acid_level", True), memory, 60.0)
    assert isinstance(verdict, Permit)


@pytest.mark.parametrize(("percent", "kind"), [(3.0, Denial), (12.0, Permit)])
def test_a_level_in_percent_is_empty_where_the_tube_does_not_reach(percent, kind):
    verdict, *_ = run(the("container.level"), with_value(HEALTHY, "acid_level", percent), FRESH, 20.0)
    assert isinstance(verdict, kind)


def test_without_a_level_signal_the_record_since_the_refill_says_when_the_container_is_empty():
    site = a_site()
    (guard,) = container_level.KIND.build(site, container_level.ContainerLevelParams())
    filled = an_evidence(site, standing=a_standing(site, refills=((ACID, CLOCK_S - 86400.0, 1000.0),)))
    for grams, kind in ((520.0, Permit), (530.0, Denial)):
        spent = replace(filled, ledger=a_ledger(site, {ACID: ((CLOCK_S - 60.0, grams),)}))
        assert isinstance(guard.judge(spent, FRESH)[0], kind)
    refilled = replace(spent, standing=a_standing(site, refills=((ACID, CLOCK_S - 86400.0, 1000.0), (ACID, CLOCK_S, 5000.0))))
    assert isinstance(guard.judge(refilled, FRESH)[0], Permit)


def asked_off(evidence, feeder, ago_s, *, running):
    return with_facts(evidence, feeder, asked_on=False, asked_off_since_s=evidence.clock_s - ago_s, running=running)


def test_a_feeder_that_runs_though_asked_off_locks_everything():
    guard = the("feeder.runs.acid")
    assert set(guard.feeders) == {CELL, ACID}
    verdict, memory, _ = run(guard, asked_off(HEALTHY, ACID, 0.0, running=True), FRESH, 3.0)
    assert isinstance(verdict, Permit)
    verdict, memory, evidence = run(guard, asked_off(HEALTHY, ACID, 0.0, running=True), FRESH, 6.0)
    assert verdict.latched
    assert isinstance(guard.judge(later(evidence, 5.0), replace(memory, latched=None))[0], Denial)
    off = with_facts(later(evidence, 60.0), ACID, running=False)
    verdict, memory = guard.judge(off, memory)
    assert verdict.latched
    assert isinstance(guard.judge(off, replace(memory, latched=None))[0], Permit)


def test_a_last_message_that_waited_in_a_broken_connection_is_not_taken_for_a_running_feeder():
    guard = the("feeder.runs.acid")
    verdict, memory = guard.judge(asked_off(HEALTHY, ACID, 3.5, running=True), FRESH)
    verdict, memory = guard.judge(asked_off(later(HEALTHY, 0.2), ACID, 3.7, running=False), memory)
    assert isinstance(verdict, Permit)
    assert memory == FRESH


def test_after_a_start_a_feed_of_the_run_before_may_end_by_its_own_expiry():
    guard = the("feeder.runs.acid")
    start = replace(HEALTHY.start, started_s=CLOCK_S)
    begun = with_facts(replace(HEALTHY, start=start), ACID, asked_off_since_s=0.0, running=True)
    verdict, memory, evidence = run(guard, begun, FRESH, 12.0)
    assert isinstance(verdict, Permit)
    verdict, *_ = run(guard, evidence, memory, 6.0)
    assert verdict.latched


@pytest.mark.parametrize(("for_s", "locks"), [(12.0, False), (15.0, True)])
def test_an_off_that_got_lost_ends_with_the_commands_own_life_and_a_contact_that_outlives_it_is_welded(for_s, locks):
    guard = the("feeder.runs.acid")
    lost = with_facts(asked_off(HEALTHY, ACID, 0.0, running=True), ACID, life_ends_s=CLOCK_S + 10.0)
    verdict, *_ = run(guard, lost, FRESH, for_s)
    assert isinstance(verdict, Denial) is locks


def asked_on(evidence, feeder, for_s, *, running):
    return with_facts(
        evidence, feeder, asked_on=True, asked_on_since_s=evidence.clock_s - for_s, asked_off_since_s=None, running=running
    )


def test_a_pump_that_stands_still_twice_is_locked_and_one_that_starts_late_once_is_not():
    guard = the("feeder.still")
    assert isinstance(guard.judge(asked_on(HEALTHY, ACID, 4.0, running=False), FRESH)[0], Permit)
    verdict, memory = guard.judge(asked_on(HEALTHY, ACID, 5.5, running=False), FRESH)
    assert verdict.why.code == "feeder.no_start"
    verdict, memory = guard.judge(asked_off(later(HEALTHY, 61.0), ACID, 50.0, running=False), memory)
    assert isinstance(verdict, Permit)
    second = asked_on(later(HEALTHY, 120.0), ACID, 6.0, running=False)
    verdict, locked = guard.judge(second, memory)
    assert verdict.latched
    assert locked.latched is not None  # what a person reads and clears
    assert guard.judge(asked_off(later(HEALTHY, 7200.0), ACID, 7000.0, running=False), locked)[0].latched
    running = asked_on(later(HEALTHY, 120.0), ACID, 6.0, running=True)
    verdict, memory = guard.judge(running, memory)
    verdict, memory = guard.judge(asked_on(later(HEALTHY, 400.0), ACID, 6.0, running=False), memory)
    assert not verdict.latched


def test_a_feed_whose_last_command_ends_a_moment_early_by_the_nodes_clock_is_not_a_pump_that_did_not_start():
    guard = the("feeder.still")
    _, memory = guard.judge(asked_on(HEALTHY, ACID, 300.0, running=True), FRESH)
    verdict, memory = guard.judge(asked_on(later(HEALTHY, 1.0), ACID, 301.0, running=False), memory)
    assert isinstance(verdict, Permit)
    verdict, memory = guard.judge(asked_on(later(HEALTHY, 7.0), ACID, 307.0, running=False), memory)
    assert verdict.why.code == "feeder.no_start"  # asked for and off for so long: it died in the middle of a feed


def test_a_pump_that_starts_within_the_pause_after_a_failed_try_fails_no_guard():
    guard = the("feeder.still")
    _, memory = guard.judge(asked_on(HEALTHY, ACID, 5.5, running=False), FRESH)
    verdict, memory = guard.judge(asked_on(later(HEALTHY, 20.0), ACID, 2.0, running=True), memory)
    assert isinstance(verdict, Permit)
    assert isinstance(guard.judge(asked_on(later(HEALTHY, 25.0), ACID, 7.0, running=True), memory)[0], Permit)


def test_feedback_that_says_nothing_is_not_taken_for_a_feeder_that_stands_still():
    guard = the("feeder.still")
    memory = FRESH
    for at_s in (0.0, 120.0, 240.0):
        silent = asked_on(later(HEALTHY, at_s), ACID, 6.0, running=None)
        verdict, memory = guard.judge(
            with_reading(silent, a_reading("acid_feedback", None, Status.FAILURE, at_s=CLOCK_S + at_s)), memory
        )
        assert isinstance(verdict, Permit)
    assert memory.count == 0


def test_nothing_is_fed_while_it_is_not_known_whether_a_feeder_runs():
    guard = the("feeder.unseen.acid")
    assert set(guard.feeders) == {CELL, ACID}
    verdict, memory, evidence = run(guard, with_facts(HEALTHY, ACID, running=None), FRESH, 600.0, 60.0)
    assert isinstance(verdict, Denial)
    assert not verdict.latched
    assert verdict.why.since.utc == HEALTHY.now.utc
    for running in (False, True):  # that it runs is another guard's affair
        assert isinstance(guard.judge(with_facts(later(evidence, 1.0), ACID, running=running), memory)[0], Permit)


@pytest.mark.parametrize(("for_s", "code"), [(1.0, "feeder.awaited"), (59.0, "feeder.awaited"), (61.0, "feeder.unseen")])
def test_the_moment_after_an_off_is_no_fault_until_a_minute_has_passed(for_s, code):
    guard = the("feeder.unseen.acid")
    off = with_facts(HEALTHY, ACID, running=None, asked_off_since_s=HEALTHY.clock_s)
    verdict, memory = guard.judge(off, FRESH)
    verdict, _ = guard.judge(later(off, for_s), memory)
    assert isinstance(verdict, Denial), "whatever it is called, nothing is fed"
    assert verdict.why.code == code


def test_feedback_that_was_lost_before_the_off_is_a_fault_at_once():
    guard = the("feeder.unseen.acid")
    _, memory = guard.judge(with_facts(HEALTHY, ACID, running=None, asked_off_since_s=None), FRESH)
    off = with_facts(later(HEALTHY, 10.0), ACID, running=None, asked_off_since_s=HEALTHY.clock_s + 5.0)
    assert guard.judge(off, memory)[0].why.code == "feeder.unseen"


def acid_days(
    guard, feeds, *, fall_per_mg_l, drift_per_h=0.01, memory=FRESH, evidence=HEALTHY, ph=7.6, mass_mg_l=0.5, signal="ph", by=ACID
):
    """Feeds three hours apart, a value a minute with saw-tooth noise of 0.02: the last verdict, memory and evidence."""
    entries = []
    for _ in range(feeds):
        for minute in range(180):
            evidence = later(evidence, 60.0)
            if minute == 1:
                entries.append((evidence.clock_s, mass_mg_l * 50.0))
            shown = ph + fall_per_mg_l * mass_mg_l * min(1.0, max(0.0, (minute - 5) / 20.0)) + 0.02 * (minute % 3 - 1)
            ph += drift_per_h / 60.0
            here = replace(with_value(evidence, signal, shown), ledger=a_ledger(SITE, {by: tuple(entries)} if entries else None))
            verdict, memory = guard.judge(here, memory)
        ph += fall_per_mg_l * mass_mg_l
    return verdict, memory, evidence


def test_acid_that_brings_no_fall_is_locked_after_five_milligrams():
    guard = the("acid.response")
    assert isinstance(acid_days(guard, 9, fall_per_mg_l=0.0)[0], Permit)
    verdict, memory, evidence = acid_days(guard, 11, fall_per_mg_l=0.0)
    assert verdict.latched
    assert verdict.why.fact("expected_ph") == pytest.approx(-0.41)
    assert isinstance(guard.judge(evidence, replace(memory, latched=None))[0], Permit)


def test_a_well_held_ph_that_never_falls_for_long_still_counts_as_an_answer():
    verdict, _, _ = acid_days(the("acid.response"), 40, fall_per_mg_l=-0.08, drift_per_h=0.0133)
    assert isinstance(verdict, Permit)


def test_ph_that_rises_after_three_of_four_acid_feeds_locks_acid_and_outgassing_does_not():
    guard = the("response.wrong_way")
    assert acid_days(guard, 4, fall_per_mg_l=+0.5)[0].latched
    assert isinstance(acid_days(guard, 20, fall_per_mg_l=0.0, drift_per_h=0.05)[0], Permit)


def test_orp_that_falls_after_night_feeds_locks_chlorine_and_sun_losses_do_not():
    guard = the("response.wrong_way", CELL)
    down = {"fall_per_mg_l": -120.0, "drift_per_h": 0.0, "ph": 700.0, "signal": "orp", "by": CELL}
    verdict, *_ = acid_days(guard, 8, **down)
    assert verdict.latched
    noon = acid_days(guard, 3, **down)
    assert isinstance(noon[0], Permit)


def flat_days(guard, hours, wave_mv, fed=True):
    evidence, memory = HEALTHY, FRESH
    entries = []
    for n in range(hours * 2):
        if fed:
            entries.append((evidence.clock_s, 0.05 * 50.0))
        shown = replace(
            with_value(evidence, "orp", 700.0 + wave_mv * (n % 4 < 2)),
            ledger=a_ledger(SITE, {CELL: tuple(entries)} if entries else None),
        )
        verdict, memory, _ = run(guard, shown, memory, 1800.0, 60.0)
        evidence = later(evidence, 1860.0)
    return verdict, memory, evidence


def test_an_electrode_that_moves_neither_way_over_a_day_of_flow_cuts_chlorine_until_a_hand_test():
    guard = the("chlorine.response", CELL)
    verdict, memory, evidence = flat_days(guard, 28, 0.3)
    assert isinstance(verdict, Limit)
    assert verdict.mass_g <= 0.3 * 2.4 * 50.0
    assert isinstance(guard.judge(with_reading(evidence, unknown("orp")), memory)[0], Limit)
    tested = replace(evidence, tests=(a_test(Quantity.FREE_CHLORINE, 3.0, evidence.clock_s),))
    assert isinstance(guard.judge(tested, memory)[0], Permit)


@pytest.mark.parametrize("days", [-30, 365])
def test_a_wall_clock_that_is_set_neither_ends_the_cut_with_an_old_test_nor_keeps_it_from_a_new_one(days):
    guard = the("chlorine.response", CELL)
    _, memory, evidence = flat_days(guard, 28, 0.3)
    evidence = later(evidence, 3600.0)
    evidence = replace(evidence, now=replace(evidence.now, utc=evidence.now.utc + timedelta(days=days)))

    def tested(at_s):
        utc = evidence.now.utc - timedelta(seconds=evidence.clock_s - at_s)  # as the clock of its entry said
        test = replace(a_test(Quantity.FREE_CHLORINE, 3.0, at_s), taken_utc=utc)
        return guard.judge(replace(evidence, tests=(test,)), memory)[0]

    assert isinstance(tested(evidence.clock_s - 6 * 86400.0), Limit)
    assert isinstance(tested(evidence.clock_s - 60.0), Permit)


def shares_at_the_trip(fed_mg_l_day):
    """Guard, evidence and memory of a pool of usual use 2.4 mg/L a day whose electrode fell silent two days ago, fed so much."""
    guard = the("chlorine.response", CELL)
    why = chlorine_response.NO_ANSWER.because(HEALTHY.now, fed_mg_l=1.0, moved_mv=2.0, rate_mg_l_day=1.5)
    marks = (1e9, -1e9, -1e12, -1e12, CLOCK_S, 0.0, CLOCK_S - 2 * 86400.0)
    fed = a_ledger(SITE, {CELL: ((CLOCK_S - 1.5 * 86400.0, 2.0 * fed_mg_l_day * 50.0),)})
    return guard, replace(HEALTHY, ledger=fed), Memory(latched=why, marks=marks)


@pytest.mark.parametrize(("fed_mg_l_day", "share"), [(2.4, 0.6), (4.0, 0.3)])
def test_the_cut_is_the_fall_backs_for_a_week_and_less_where_more_than_usual_was_fed_before(fed_mg_l_day, share):
    guard, evidence, memory = shares_at_the_trip(fed_mg_l_day)
    evidence = later(evidence, 86400.0)
    assert guard.judge(evidence, memory)[0].mass_g == pytest.approx(share * 2.4 * 50.0)
    week = later(evidence, 4.1 * 86400.0)
    assert guard.judge(week, memory)[0].mass_g == pytest.approx(0.3 * 2.4 * 50.0)


def test_a_cut_of_an_older_record_stays_at_the_later_share():
    guard, evidence, memory = shares_at_the_trip(2.4)
    evidence = later(evidence, 86400.0)
    verdict, _ = guard.judge(evidence, replace(memory, marks=memory.marks[:5]))
    assert verdict.mass_g == pytest.approx(0.3 * 2.4 * 50.0)


def test_an_electrode_that_moves_a_little_is_alive_and_an_unfed_one_is_not_judged():
    assert isinstance(flat_days(the("chlorine.response", CELL), 60, 3.0)[0], Permit)
    assert isinstance(flat_days(the("chlorine.response", CELL), 40, 0.0, fed=False)[0], Permit)


@pytest.mark.parametrize(
    ("code", "feeder", "cold", "between", "warm"), [("cold.cell", CELL, 11.5, 12.3, 12.6), ("cold.water", ACID, 3.5, 5.0, 6.5)]
)
def test_cold_water_rests_the_feeder_until_it_is_warmer_for_half_an_hour(code, feeder, cold, between, warm):
    guard = the(code, feeder)
    verdict, memory, evidence = run(guard, with_value(HEALTHY, "water_temp", cold), FRESH, 60.0, 10.0)
    assert isinstance(verdict, Denial)
    verdict, memory, evidence = run(guard, with_value(evidence, "water_temp", between), memory, 2 * HOUR_S, 60.0)
    assert isinstance(verdict, Denial)
    lost = with_reading(later(evidence, 10.0), unknown("water_temp"))
    assert isinstance(guard.judge(lost, memory)[0], Denial)
    verdict, memory, evidence = run(guard, with_value(evidence, "water_temp", warm), memory, 1740.0, 60.0)
    assert isinstance(verdict, Denial)
    assert isinstance(run(guard, evidence, memory, 120.0, 60.0)[0], Permit)


def test_a_temperature_never_read_holds_and_one_lost_after_warm_water_does_not_starve_the_pool():
    guard = the("cold.cell", CELL)
    lost = with_reading(HEALTHY, unknown("water_temp"))
    assert isinstance(guard.judge(lost, FRESH)[0], Denial)
    _, memory = guard.judge(HEALTHY, FRESH)
    assert isinstance(guard.judge(later(lost, HOUR_S), memory.restarted())[0], Permit)


@pytest.mark.parametrize("salt", [1.9, 6.1])
def test_salt_out_of_bounds_stops_the_cell(salt):
    _, memory = the("salt.level", CELL).judge(HEALTHY, FRESH)
    assert isinstance(run(the("salt.level", CELL), with_value(HEALTHY, "salt", salt), memory, 300.0, 60.0)[0], Denial)


@pytest.mark.parametrize(("signal", "value"), [("cell_current", 1.9), ("cell_current", 6.6), ("cell_voltage", 28.0)])
def test_a_cell_out_of_its_current_or_voltage_rests_and_the_third_time_in_a_day_is_locked(signal, value):
    guard, memory, evidence = the("cell.power", CELL), FRESH, HEALTHY
    for n in range(3):
        bad = with_value(feeding(evidence, CELL), signal, value)
        verdict, memory, bad = run(guard, bad, memory, 59.0)
        assert isinstance(verdict, Permit)
        verdict, memory = guard.judge(later(bad, 1.0), memory)
        assert verdict.latched is (n == 2)
        assert isinstance(verdict, Denial)
        evidence = replace(later(HEALTHY, (n + 1) * HOUR_S))
        rested, memory = guard.judge(evidence, memory)
        assert isinstance(rested, Permit) is (n < 2)


def test_backwash_holds_feeding_until_two_minutes_after():
    guard = the("water.path")
    for moved in (with_value(HEALTHY, "water_path", False), with_reading(HEALTHY, unknown("water_path"))):
        verdict, memory = guard.judge(moved, FRESH)
        assert isinstance(verdict, Denial)
    verdict, memory, evidence = run(guard, later(HEALTHY, 1.0), memory, 118.0)
    assert isinstance(verdict, Denial)
    assert isinstance(guard.judge(later(evidence, 2.0), memory)[0], Permit)
