"""Each side of a limit that the guards' other tests do not stand on: a value just inside is let pass, one just outside is not."""

from dataclasses import replace

import pytest

from dosectl.core.interlocks.guard import FRESH, Memory
from dosectl.core.interlocks.guards import (
    acid_budget,
    cell_power,
    change_unfed,
    chlorine_response,
    clock_doubt,
    container_level,
    cover_closed,
    feeder_runs,
    feeder_still,
    flow_proven,
    lockout,
    low_ph,
    mass_learned,
    node_online,
    probe_validity,
    salt_level,
)
from dosectl.core.interlocks.guards.probe_validity import KIND_PH
from dosectl.model.feeds import FeederId, Substance
from dosectl.model.ledger import FeederLedger
from dosectl.model.signals import SignalId, SignalKind
from dosectl.model.verdicts import Denial, Limit, Permit
from dosectl.model.water_tests import Quantity
from tests.builders import (
    ACID,
    CELL,
    CLOCK_S,
    a_cell,
    a_chlorine_pump,
    a_ledger,
    a_reading,
    a_signal,
    a_site,
    a_test,
    an_acid_pump,
    an_evidence,
    feeding,
    later,
    run,
    with_facts,
    with_flow,
    with_reading,
    with_value,
)

HOUR_S = 3600.0
LEVEL = a_signal(SignalKind.LEVEL, "acid_level", feeder=ACID)
CURRENT = a_signal(SignalKind.CELL_CURRENT, feeder=CELL)
SITE = a_site(feeders=(a_cell(), an_acid_pump(level=LEVEL.id)), more_signals=(LEVEL, CURRENT, a_signal(SignalKind.SALT)))
HEALTHY = an_evidence(SITE)


def the(kind, feeder=ACID, code=None):
    guards = kind.build(SITE, kind.params() if kind.params else None)
    return next(guard for guard in guards if feeder in guard.feeders and (code is None or guard.code == code))


def test_the_budgets_reason_tells_the_share_of_the_alkalinity_that_is_used():
    fed = replace(HEALTHY, ledger=a_ledger(SITE, {ACID: ((CLOCK_S - 60.0, 0.35 * 80.0 * 50.0),)}))
    verdict, _ = the(acid_budget.KIND).judge(fed, FRESH)
    assert isinstance(verdict, Limit)
    assert verdict.why.fact("used_percent") == 35


@pytest.mark.parametrize(("ended_s_ago", "kind"), [(100.0, Permit), (200.0, Denial)])
def test_a_level_that_is_told_two_minutes_after_the_feed_is_still_that_feeds(ended_s_ago, kind):
    guard = the(change_unfed.KIND, CELL, "change.unfed.acid_level")
    book = a_ledger(SITE, {ACID: ((CLOCK_S - ended_s_ago, 70.0),)})  # 140 mL of 5 L, 2.8 %
    evidence = with_value(replace(HEALTHY, ledger=book), "acid_level", 80.0)
    _, memory = guard.judge(evidence, FRESH)
    fallen = with_value(later(evidence, 10.0), "acid_level", 77.3)
    verdict, *_ = run(guard, fallen, memory, 130.0, 10.0)
    assert isinstance(verdict, kind)


def test_a_dead_electrode_whose_cut_a_person_lifts_has_a_day_anew_and_does_not_fail():
    guard = the(chlorine_response.KIND, CELL)
    evidence, memory, entries = HEALTHY, FRESH, []
    verdict = guard.permit
    for _ in range(60):
        entries.append((evidence.clock_s, 0.05 * 50.0))
        shown = replace(evidence, ledger=a_ledger(SITE, {CELL: tuple(entries)}))
        verdict, memory, _ = run(guard, shown, memory, 1800.0, 60.0)
        evidence = later(evidence, 1860.0)
    assert isinstance(verdict, Limit)
    assert len(memory.marks) == 7  # the swing went on being followed under the cut, beside when that began and what was fed
    verdict, memory, _ = run(guard, evidence, replace(memory, latched=None), 2 * HOUR_S, 60.0)
    assert isinstance(verdict, Permit)


def on_fallback(evidence):
    return replace(evidence, standing=replace(evidence.standing, fallback_since_s=evidence.clock_s - 3600.0))


@pytest.mark.parametrize(("jump_s", "kind"), [(4.5, Permit), (5.5, Denial), (-5.5, Denial)])
def test_one_jump_of_more_than_five_seconds_is_a_doubt_and_a_smaller_one_is_not(jump_s, kind):
    assert isinstance(the(clock_doubt.KIND, CELL).judge(replace(on_fallback(HEALTHY), clock_jump_s=jump_s), FRESH)[0], kind)


@pytest.mark.parametrize(("step_s", "kind"), [(0.05, Permit), (0.15, Denial)])
def test_a_clock_is_steered_by_twentieths_of_a_second_and_doubted_if_it_slips_by_more_all_day(step_s, kind):
    guard, evidence, memory, verdict = the(clock_doubt.KIND, CELL), on_fallback(HEALTHY), FRESH, None
    for _ in range(24 * 60 - 1):
        evidence = replace(later(evidence, 60.0), clock_jump_s=step_s)
        verdict, memory = guard.judge(evidence, memory)
    assert isinstance(verdict, kind)


@pytest.mark.parametrize(("fed_mg_l", "kind"), [(1.1, Permit), (1.6, Limit)])
def test_an_electrode_that_shows_nothing_of_more_than_a_milligram_in_a_day_of_flow_cuts_chlorine(fed_mg_l, kind):
    guard, evidence, memory, verdict = the(chlorine_response.KIND, CELL), HEALTHY, FRESH, None
    entries = []
    for n in range(56):  # half-hours of flow; the first two find what the electrode shows
        if 2 <= n < 12:
            entries.append((evidence.clock_s, fed_mg_l * 50.0 / 10.0))
        verdict, memory, _ = run(guard, replace(evidence, ledger=a_ledger(SITE, {CELL: tuple(entries)})), memory, 1800.0, 60.0)
        evidence = later(evidence, 1860.0)
    assert isinstance(verdict, kind)


@pytest.mark.parametrize(("feeder", "soon_s", "late_s"), [(CELL, 14.5, 15.5), (ACID, 4.5, 5.5)])
def test_a_cell_has_fifteen_seconds_to_start_and_a_pump_five(feeder, soon_s, late_s):
    guard = the(feeder_still.KIND, feeder)
    for for_s, kind in ((soon_s, Permit), (late_s, Denial)):
        asked = with_facts(
            HEALTHY, feeder, asked_on=True, asked_on_since_s=CLOCK_S - for_s, asked_off_since_s=None, running=False
        )
        assert isinstance(guard.judge(asked, FRESH)[0], kind)


def test_one_message_of_a_running_feeder_judged_twice_is_one_message():
    guard = the(feeder_runs.KIND, CELL, "feeder.runs.acid")
    memory = FRESH
    for ago_s in (0.0, 0.5, 5.0):
        evidence = with_facts(
            later(HEALTHY, ago_s), ACID, asked_on=False, asked_off_since_s=CLOCK_S - 4.0, asked_on_since_s=None, running=True
        )
        verdict, memory = guard.judge(with_reading(evidence, a_reading("acid_feedback", True, at_s=CLOCK_S)), memory)
        assert isinstance(verdict, Permit)


@pytest.mark.parametrize(("pump_told_s", "proving_s"), [(10.0, 60.0), (20.0, 600.0), (40.0, 600.0)])
def test_a_pump_told_off_within_fifteen_seconds_of_the_flow_was_switched_off_and_a_later_word_excuses_no_loss(
    pump_told_s, proving_s
):
    guard = the(flow_proven.KIND)
    _, memory = guard.judge(HEALTHY, FRESH)
    evidence = HEALTHY
    for _ in range(5):
        _, memory, evidence = run(guard, with_flow(later(evidence, 1.0), pump=True, flow=False), memory, pump_told_s)
        _, memory, evidence = run(guard, with_flow(later(evidence, 1.0), pump=False, flow=False), memory, 30.0)
        evidence = later(evidence, 1.0)
        evidence = with_flow(evidence, pump=True, flow=True, since_s=evidence.clock_s)
        verdict, memory = guard.judge(evidence, memory)
    assert verdict.why.fact("proving_s") == proving_s


@pytest.mark.parametrize(("flowed_s", "kind"), [(100.0, Denial), (599.0, Denial), (600.0, Permit)])
def test_after_acid_of_a_feeder_that_left_the_settings_chlorine_waits_ten_minutes_of_flow(flowed_s, kind):
    gone = FeederLedger(FeederId("old pump"), (CLOCK_S - 700.0,), (50.0,), substance=Substance.ACID)
    ledger = replace(HEALTHY.ledger, feeders=(*HEALTHY.ledger.feeders, gone))
    start = replace(HEALTHY.start, flow_s=HEALTHY.flow.clock_s - flowed_s)
    evidence = replace(HEALTHY, ledger=ledger, start=start)
    assert isinstance(the(lockout.KIND, CELL).judge(evidence, FRESH)[0], kind)
    assert isinstance(the(lockout.KIND, ACID).judge(evidence, FRESH)[0], Permit)  # acid may follow acid


@pytest.mark.parametrize(("up_s", "kind"), [(9.5, Denial), (10.5, Permit)])
def test_a_node_waits_until_it_is_up_for_ten_seconds(up_s, kind):
    node = replace(HEALTHY.feeders[ACID].node, ms=round(1000 * up_s) - 1000)
    assert isinstance(the(node_online.KIND).judge(with_facts(HEALTHY, ACID, node=node, node_age_s=1.0), FRESH)[0], kind)


@pytest.mark.parametrize(("age_s", "kind"), [(175.0, Permit), (181.0, Denial)])
def test_a_ph_older_than_three_minutes_is_lost_whatever_the_settings_allow(age_s, kind):
    old = with_reading(HEALTHY, replace(HEALTHY.readings[SignalId("ph")], at_s=CLOCK_S - age_s))
    assert isinstance(the(KIND_PH, ACID).judge(old, FRESH)[0], kind)
    assert probe_validity.AGE_S_MAX == 180.0


@pytest.mark.parametrize(("ago_s", "kind"), [(60.0, Permit), (2 * HOUR_S, Limit)])
def test_a_hand_test_ends_a_cut_to_what_is_usual_only_if_it_was_taken_after_the_cut_began(ago_s, kind):
    cut = Memory(marks=(700.0, 704.0, HEALTHY.flow.clock_s, HEALTHY.flow.clock_s, CLOCK_S - HOUR_S))
    tested = replace(HEALTHY, tests=(a_test(Quantity.FREE_CHLORINE, 3.0, CLOCK_S - ago_s),))
    assert isinstance(the(mass_learned.KIND, CELL).judge(tested, cut)[0], kind)


def test_a_container_counts_as_full_again_after_a_minute_and_not_at_the_first_splash():
    guard = the(container_level.KIND)
    _, memory = guard.judge(with_value(HEALTHY, "acid_level", 50.0), FRESH)
    _, memory, evidence = run(guard, with_value(HEALTHY, "acid_level", 1.0), memory, 20.0)
    filled = with_value(later(evidence, 1.0), "acid_level", 90.0)
    verdict, memory, filled = run(guard, filled, memory, 59.0)
    assert isinstance(verdict, Denial)
    verdict, memory, _ = run(guard, filled, memory, 1.0)
    assert isinstance(verdict, Permit)


@pytest.mark.parametrize(("flowed_s", "latched"), [(230.0, False), (310.0, True)])
def test_acid_is_locked_for_a_far_too_low_ph_of_settled_water_only(flowed_s, latched):
    far = with_flow(with_value(HEALTHY, "ph", 6.5), pump=True, flow=True, since_s=CLOCK_S - flowed_s)
    fed = replace(far, ledger=a_ledger(SITE, {ACID: ((CLOCK_S - HOUR_S, 100.0),)}))
    verdict, *_ = run(the(low_ph.KIND), fed, FRESH, 61.0)
    assert isinstance(verdict, Denial)
    assert verdict.latched is latched


def test_salt_must_lie_outside_for_five_minutes():
    guard = the(salt_level.KIND, CELL)
    _, memory = guard.judge(HEALTHY, FRESH)
    verdict, memory, evidence = run(guard, with_value(HEALTHY, "salt", 1.5), memory, 299.0, 1.0)
    assert isinstance(verdict, Permit)
    assert isinstance(guard.judge(later(evidence, 1.0), memory)[0], Denial)
    filled = with_value(later(evidence, 2.0), "salt", 3.2)
    _, memory = guard.judge(later(evidence, 1.0), memory)
    verdict, memory, filled = run(guard, filled, memory, 1799.0, 1.0)
    assert isinstance(verdict, Denial)
    assert isinstance(guard.judge(later(filled, 1.0), memory)[0], Permit)


@pytest.mark.parametrize(("times", "kind"), [(1.4, Permit), (2.0, Denial)])
def test_a_container_may_fall_half_again_as_fast_as_it_is_fed_and_not_twice_as_fast(times, kind):
    guard, memory, verdict, fed = the(change_unfed.KIND, CELL, "change.unfed.acid_level"), FRESH, None, []
    for minute in range(40):
        at_s = 60.0 * minute
        fed.append((CLOCK_S + at_s, 10.0))  # 20 mL of 5 L each minute, 0.4 %
        book = a_ledger(SITE, {ACID: tuple(fed)})
        evidence = with_value(later(replace(HEALTHY, ledger=book), at_s), "acid_level", 95.0 - times * 0.4 * minute)
        verdict, memory = guard.judge(evidence, memory)
        if isinstance(verdict, Denial):
            break
    assert isinstance(verdict, kind)


@pytest.mark.parametrize(("apart_h", "latched"), [(11.5, True), (12.5, False)])
def test_a_cell_is_locked_by_three_failures_of_one_day_and_not_by_three_of_a_longer_time(apart_h, latched):
    (guard,) = cell_power.KIND.build(SITE, cell_power.CellPowerParams(expected_a=5.0, volts_max=28.0))
    memory, verdict = FRESH, None
    for n in range(3):
        weak = with_value(feeding(later(HEALTHY, n * apart_h * HOUR_S), CELL), "cell_current", 1.0)
        verdict, memory, _ = run(guard, weak, memory, 60.0)
        assert isinstance(verdict, Denial)
    assert verdict.latched is latched


def test_under_a_cover_a_large_pump_is_held_to_the_days_amount_alone():
    site = a_site(feeders=(a_chlorine_pump(), an_acid_pump()), more_signals=(a_signal(SignalKind.COVER),))  # 1.5 mg/L an hour
    (guard,) = cover_closed.KIND.build(site, cover_closed.CoverClosedParams())
    verdict, _ = guard.judge(with_value(an_evidence(site), "cover", True), FRESH)
    assert isinstance(verdict, Limit)
    assert verdict.mass_g == pytest.approx(0.6 * 2.4 * 50.0)


@pytest.mark.parametrize(("percent", "kind"), [(2.5, Denial), (3.5, Permit)])
def test_a_container_is_empty_at_three_percent(percent, kind):
    verdict, *_ = run(the(container_level.KIND), with_value(HEALTHY, "acid_level", percent), FRESH, 20.0)
    assert isinstance(verdict, kind)


@pytest.mark.parametrize(("apart_s", "kind"), [(0.9, Permit), (1.1, Denial)])
def test_two_messages_of_a_feeder_that_runs_unasked_must_lie_a_second_apart(apart_s, kind):
    guard, memory, verdict = the(feeder_runs.KIND, CELL, "feeder.runs.acid"), FRESH, None
    for after_s in (0.0, apart_s):
        evidence = with_facts(
            later(HEALTHY, after_s), ACID, asked_on=False, asked_off_since_s=CLOCK_S - 4.0, asked_on_since_s=None, running=True
        )
        verdict, memory = guard.judge(evidence, memory)
    assert isinstance(verdict, kind)


@pytest.mark.parametrize(("apart_days", "latched"), [(6.5, True), (7.5, False), (13.5, False)])
def test_a_second_siphons_sign_locks_within_a_week_of_the_first_and_not_later(apart_days, latched):
    guard = the(change_unfed.KIND, CELL, "change.unfed.ph")
    _, memory = guard.judge(HEALTHY, FRESH)
    verdict, memory, evidence = run(guard, with_value(later(HEALTHY, 900.0), "ph", 7.1), memory, 180.0, 60.0)
    assert isinstance(verdict, Denial)
    quiet = with_value(later(evidence, apart_days * 24 * HOUR_S), "ph", 7.5)
    _, memory = guard.judge(quiet, memory)
    verdict, *_ = run(guard, with_value(later(quiet, 900.0), "ph", 7.1), memory, 120.0, 60.0)
    assert verdict.latched is latched
