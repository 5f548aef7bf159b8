"""Mass guards: what a window leaves, the acid budget, waits for mixing, the lockout of acid and chlorine."""

from dataclasses import replace
from datetime import timedelta
from math import exp

import pytest

from dosectl.core.interlocks.guard import FRESH
from dosectl.core.interlocks.guards import (
    acid_budget,
    lockout,
    lockout_both,
    mass_day,
    mass_hour,
    mass_learned,
    mass_single,
    mixing_wait,
)
from dosectl.core.interlocks.mixed import wait_after_s
from dosectl.model.feeds import Substance
from dosectl.model.ledger import Debit
from dosectl.model.verdicts import Denial, Limit, Permit
from dosectl.model.water_tests import Quantity
from tests.builders import (
    ACID,
    CELL,
    CLOCK_S,
    a_chlorine_pump,
    a_ledger,
    a_site,
    a_standing,
    a_test,
    an_acid_pump,
    an_evidence,
    feeding,
    later,
    run,
    with_facts,
    with_flow,
    with_value,
)

HOUR_S = 3600.0
DAY_S = 86400.0
SITE = a_site(feeders=(a_chlorine_pump(), an_acid_pump()))
HEALTHY = an_evidence(SITE)
MODULES = (acid_budget, lockout, lockout_both, mass_day, mass_hour, mass_learned, mass_single, mixing_wait)
GUARDS = [guard for module in MODULES for guard in module.KIND.build(SITE, module.KIND.params and module.KIND.params())]


def the(module, feeder=CELL):
    return next(g for g in GUARDS if feeder in g.feeders and g.code == module.CODE)


def fed(*entries, feeder=CELL, evidence=HEALTHY):
    """The evidence with feeds booked: (seconds ago, mg/L)."""
    book = tuple((evidence.clock_s - ago_s, mg_l * 50.0) for ago_s, mg_l in entries)
    return replace(evidence, ledger=a_ledger(evidence.site, {feeder: book}))


@pytest.mark.parametrize(
    "guard", [g for g in GUARDS if g.code not in {mass_single.CODE, acid_budget.CODE}], ids=lambda g: f"{g.code}:{g.feeders}"
)
def test_a_healthy_pool_is_permitted_and_its_memory_settles(guard):
    _, memory = guard.judge(HEALTHY, FRESH)
    verdict, memory = guard.judge(later(HEALTHY, 30.0), memory)
    assert isinstance(verdict, Permit)
    again, same = guard.judge(later(HEALTHY, 50.0), memory)
    assert again is verdict
    assert same is memory


def test_the_single_feed_is_half_a_milligram_and_half_of_that_in_the_first_fortnight():
    verdict, _ = the(mass_single).judge(HEALTHY, FRESH)
    assert verdict.mass_g == pytest.approx(25.0)
    young = replace(HEALTHY, standing=a_standing(SITE, daily_use_mg_l=((Substance.CHLORINE, (2.4,) * 13),)))
    assert the(mass_single).judge(young, FRESH)[0].mass_g == pytest.approx(12.5)
    assert the(mass_single, ACID).judge(HEALTHY, FRESH)[0].mass_g == pytest.approx(50.0)


def test_a_single_feed_counts_all_its_reservations_and_the_next_feed_begins_anew():
    guard = the(mass_single)
    _, memory = guard.judge(HEALTHY, FRESH)
    going = feeding(HEALTHY, CELL)
    book = going.ledger.of(CELL).with_open(Debit(1, CELL, CLOCK_S, CLOCK_S, 10.0)).drawn(10.0, CLOCK_S).closed(CLOCK_S, None)
    book = book.with_open(Debit(2, CELL, CLOCK_S, CLOCK_S, 10.0))
    going = replace(going, ledger=going.ledger.with_feeder(book))
    verdict, memory = guard.judge(going, memory)
    assert verdict.mass_g == pytest.approx(5.0)
    ended = replace(HEALTHY, ledger=going.ledger.with_feeder(book.closed(CLOCK_S, 4.0)))
    verdict, memory = guard.judge(later(ended, 5.0), memory)
    assert verdict.mass_g == pytest.approx(25.0)


def test_a_cell_has_no_single_feed_limit():
    assert [g.feeders for g in mass_single.KIND.build(a_site(), mass_single.MassSingleParams())] == [(ACID,)]


@pytest.mark.parametrize(
    ("module", "feeder", "window_s", "limit_mg_l"),
    [(mass_hour, CELL, HOUR_S, 1.0), (mass_hour, ACID, HOUR_S, 2.5), (mass_day, CELL, DAY_S, 5.0), (mass_day, ACID, DAY_S, 5.0)],
)
def test_a_window_leaves_what_its_limit_has_not_spent(module, feeder, window_s, limit_mg_l):
    guard = the(module, feeder)
    verdict, _ = guard.judge(fed((window_s - 1.0, limit_mg_l - 0.3), feeder=feeder), FRESH)
    assert verdict.mass_g == pytest.approx(0.3 * 50.0)
    verdict, _ = guard.judge(fed((window_s - 1.0, limit_mg_l + 0.3), feeder=feeder), FRESH)
    assert verdict.mass_g == 0.0
    assert isinstance(guard.judge(fed((window_s + 1.0, limit_mg_l), feeder=feeder), FRESH)[0], Permit)


def test_an_open_reservation_counts_in_full_against_the_hour():
    evidence = fed((600.0, 0.5))
    book = evidence.ledger.of(CELL).with_open(Debit(1, CELL, CLOCK_S, CLOCK_S, 12.5))
    evidence = replace(evidence, ledger=evidence.ledger.with_feeder(book))
    assert the(mass_hour).judge(evidence, FRESH)[0].mass_g == pytest.approx(12.5)


def test_the_hourly_limit_is_half_in_the_first_fortnight_and_the_daily_is_not():
    young = replace(fed((600.0, 0.3)), standing=a_standing(SITE, daily_use_mg_l=()))
    assert the(mass_hour).judge(young, FRESH)[0].mass_g == pytest.approx(10.0)
    assert isinstance(the(mass_day).judge(young, FRESH)[0], Permit)


@pytest.mark.parametrize(("median", "limit_mg_l"), [(0.5, 3.0), (1.6, 4.0), (2.4, 5.0), (3.8, 5.0), (5.0, 6.5), (7.0, 8.0)])
def test_the_daily_limit_knows_usual_use_and_names_what_binds(median, limit_mg_l):
    evidence = replace(fed((60.0, 9.0)), standing=a_standing(SITE, daily_use_mg_l=((Substance.CHLORINE, (median,) * 14),)))
    verdict, _ = the(mass_day).judge(evidence, FRESH)
    assert verdict.why.fact("limit_mg_l") == limit_mg_l
    assert verdict.why.fact("limited_by") == ("set at installation" if limit_mg_l == 5.0 else "by usual use")


def test_usual_use_raises_the_daily_limit_no_further_than_the_owner_lets_it_and_not_before_a_fortnight():
    high = replace(fed((60.0, 9.0)), standing=a_standing(SITE, daily_use_mg_l=((Substance.CHLORINE, (6.0,) * 14),)))
    held = mass_day.KIND.build(SITE, mass_day.MassDayParams(chlorine_mg_l=4.0, chlorine_most_mg_l=4.0))[0]
    assert held.judge(high, FRESH)[0].why.fact("limit_mg_l") == 4.0
    young = replace(high, standing=a_standing(SITE, daily_use_mg_l=((Substance.CHLORINE, (6.0,) * 13),)))
    assert the(mass_day).judge(young, FRESH)[0].why.fact("limit_mg_l") == 5.0


def test_the_tight_trip_stays_within_reach_of_the_daily_limit_of_a_pool_of_much_use():
    for usual in (1.0, 2.4, 3.0, 3.85, 5.0, 6.0, 8.0):
        day = max(5.0, min(8.0, 1.3 * usual)) if usual > 3.9 else min(5.0, max(3.0, 2.5 * usual))
        assert mass_learned.tight_mg_l(usual) < 3 * day


def test_acid_is_nearly_stopped_at_a_third_of_the_alkalinity_and_latched_near_half():
    guard = the(acid_budget, ACID)
    days = 10 * DAY_S
    assert isinstance(guard.judge(fed((days, 24.0), feeder=ACID), FRESH)[0], Permit)
    verdict, _ = guard.judge(fed((days, 24.5), feeder=ACID), FRESH)
    assert verdict.mass_g == pytest.approx(50.0)
    verdict, _ = guard.judge(fed((days, 36.5), feeder=ACID), FRESH)
    assert isinstance(verdict, Denial)
    assert verdict.latched
    assert verdict.clears_by == "test"


def test_what_is_left_of_the_acid_budget_fades_out_and_reaches_no_latch_by_itself():
    guard = the(acid_budget, ACID)
    used, fed_days = 25.0, []
    for day in range(40):
        verdict, _ = guard.judge(fed(((41.0 - day) * DAY_S, used), feeder=ACID), FRESH)
        assert isinstance(verdict, Limit), f"day {day}: latched at {used} mg/L of 80"
        fed_days.append(verdict.mass_g / 50.0)
        used += fed_days[-1]
    assert fed_days[:4] == pytest.approx([1.0] * 4)
    assert sum(fed_days[:21]) > 10.0  # of the 11 that are left: three weeks are not without acid
    assert used < 36.0


@pytest.mark.parametrize(("used_mg_l", "rate_mg_l_day"), [(30.0, 1.0), (33.6, 0.8), (35.1, 0.3)])
def test_the_rest_of_the_acid_budget_is_made_to_last_three_days(used_mg_l, rate_mg_l_day):
    verdict, _ = the(acid_budget, ACID).judge(fed((10 * DAY_S, used_mg_l), feeder=ACID), FRESH)
    assert verdict.mass_g == pytest.approx(rate_mg_l_day * 50.0)


def test_an_alkalinity_test_starts_a_new_acid_budget_and_a_low_one_tightens_it():
    guard = the(acid_budget, ACID)
    spent = fed((10 * DAY_S, 40.0), (1800.0, 13.0), feeder=ACID)
    tested = replace(spent, tests=(a_test(Quantity.ALKALINITY, 80.0),))
    assert isinstance(guard.judge(tested, FRESH)[0], Permit)
    tested = replace(spent, tests=(a_test(Quantity.ALKALINITY, 40.0),))
    assert isinstance(guard.judge(tested, FRESH)[0], Limit)
    tested = replace(spent, tests=(a_test(Quantity.ALKALINITY, 0.0),))
    assert isinstance(guard.judge(tested, FRESH)[0], Denial)


@pytest.mark.parametrize(("feeder", "wait_s"), [(CELL, 1200.0), (ACID, 1800.0)])
def test_the_next_pumped_feed_waits_for_minutes_of_flow_not_of_clock(feeder, wait_s):
    guard = the(mixing_wait, feeder)
    assert isinstance(guard.judge(feeding(HEALTHY, feeder), FRESH)[0], Permit)
    ended = with_facts(HEALTHY, feeder, ran_s=CLOCK_S, ran_flow_s=HEALTHY.flow.clock_s)
    assert isinstance(guard.judge(ended, FRESH)[0], Denial)
    still = later(with_flow(ended, pump=False, flow=False), 10 * HOUR_S)
    assert isinstance(guard.judge(still, FRESH)[0], Denial)
    assert isinstance(guard.judge(later(ended, wait_s - 1.0), FRESH)[0], Denial)
    assert isinstance(guard.judge(later(ended, wait_s), FRESH)[0], Permit)


@pytest.mark.parametrize(("run_s", "wait_s"), [(0.0, 1200.0), (60.0, 1170.0), (600.0, 900.0), (1200.0, 600.0), (3600.0, 600.0)])
def test_a_long_feed_of_chlorine_has_mixed_in_while_it_went_on(run_s, wait_s):
    ended = with_facts(HEALTHY, CELL, ran_s=CLOCK_S, ran_flow_s=HEALTHY.flow.clock_s, run_flow_s=run_s)
    assert isinstance(the(mixing_wait).judge(later(ended, wait_s - 1.0), FRESH)[0], Denial)
    assert isinstance(the(mixing_wait).judge(later(ended, wait_s), FRESH)[0], Permit)
    denied = the(mixing_wait).judge(ended, FRESH)[0]
    assert dict(denied.why.facts)["wait_min"] == wait_s / 60.0


def test_acid_and_a_feeder_whose_rate_changes_are_waited_for_from_their_end():
    ended = with_facts(HEALTHY, ACID, ran_s=CLOCK_S, ran_flow_s=HEALTHY.flow.clock_s, run_flow_s=3600.0)
    assert isinstance(the(mixing_wait, ACID).judge(later(ended, 1799.0), FRESH)[0], Denial)
    level = replace(HEALTHY.site, feeders=tuple(replace(f, percent=True) for f in HEALTHY.site.feeders))
    guard = next(g for g in mixing_wait.KIND.build(level, mixing_wait.MixingWaitParams()) if CELL in g.feeders)
    ended = with_facts(HEALTHY, CELL, ran_s=CLOCK_S, ran_flow_s=HEALTHY.flow.clock_s, run_flow_s=3600.0)
    assert isinstance(guard.judge(later(ended, 1199.0), FRESH)[0], Denial)


@pytest.mark.parametrize("run_min", [5.0, 10.0, 20.0, 36.0, 60.0])
@pytest.mark.parametrize("mixing_min", [2.0, 5.0, 10.0, 20.0, 60.0])
def test_hardly_more_of_a_long_feed_is_unseen_at_the_next_than_of_a_short_one(run_min, mixing_min):
    """First-order mixing (stirred vessel, common practice): of an even feed, the mean over its minutes is not mixed in yet."""
    wait_min = wait_after_s(1200.0, 60.0 * run_min) / 60.0
    ages = [wait_min + run_min * (i + 0.5) / 500.0 for i in range(500)]
    unseen = sum(exp(-age / mixing_min) for age in ages) / 500.0
    assert unseen <= exp(-20.0 / mixing_min) + 0.03


def test_a_last_feed_of_unknown_flow_time_waits_by_the_present_run_of_the_pump():
    guard = the(mixing_wait)
    assert isinstance(guard.judge(fed((1000.0, 0.1)), FRESH)[0], Denial)
    assert isinstance(guard.judge(fed((1300.0, 0.1)), FRESH)[0], Permit)
    young = with_flow(fed((DAY_S, 0.1)), pump=True, flow=True, since_s=CLOCK_S - 1000.0)
    assert isinstance(guard.judge(young, FRESH)[0], Denial)


def test_acid_and_chlorine_are_never_both_permitted_while_either_runs_or_is_asked_on():
    for runs, waits in ((CELL, ACID), (ACID, CELL)):
        for change in ({"running": True}, {"asked_on": True}):
            assert isinstance(the(lockout, waits).judge(with_facts(HEALTHY, runs, **change), FRESH)[0], Denial)


def test_the_other_chemical_waits_ten_minutes_of_flow_after_a_pump_and_two_after_a_cell():
    with_cell = an_evidence()
    acid_after_cell = next(g for g in lockout.KIND.build(with_cell.site, lockout.LockoutParams()) if ACID in g.feeders)
    for guard, evidence, spacing_s in ((the(lockout, ACID), HEALTHY, 600.0), (acid_after_cell, with_cell, 120.0)):
        ended = with_facts(evidence, CELL, ran_s=CLOCK_S, ran_flow_s=evidence.flow.clock_s)
        assert isinstance(guard.judge(later(ended, spacing_s - 1.0), FRESH)[0], Denial)
        assert isinstance(guard.judge(later(ended, spacing_s), FRESH)[0], Permit)
        assert isinstance(guard.judge(later(with_flow(ended, pump=False, flow=False), DAY_S), FRESH)[0], Denial)


def test_a_feeder_whose_running_is_unknown_holds_the_other_one():
    assert isinstance(the(lockout, CELL).judge(with_facts(HEALTHY, ACID, running=None), FRESH)[0], Denial)


def test_both_running_for_more_than_half_a_second_locks_both_until_a_person_clears():
    guard = the(lockout_both)
    both = feeding(feeding(HEALTHY, CELL), ACID, for_s=0.4)
    assert isinstance(guard.judge(both, FRESH)[0], Permit)
    verdict, memory = guard.judge(later(both, 0.2), FRESH)
    assert verdict.latched
    verdict, memory = guard.judge(later(HEALTHY, DAY_S), memory)
    assert verdict.latched
    assert isinstance(guard.judge(HEALTHY, replace(memory, latched=None))[0], Permit)
    assert isinstance(guard.judge(later(both, 0.2), replace(memory, latched=None))[0], Denial)


def answering(memory=FRESH, evidence=HEALTHY, amplitude_mv=4.0):
    """Six hours of flow in which the ORP's half-hour means rise and fall."""
    for n in range(12):
        shown = with_value(evidence, "orp", 700.0 + (amplitude_mv if n % 4 < 2 else 0.0))
        _, memory, evidence = run(the(mass_learned), shown, memory, 1800.0, 60.0)
        evidence = later(evidence, 60.0)
    return memory, evidence


def three_days(mg_l_day, evidence):
    return fed(*[(h * HOUR_S + 60.0, mg_l_day / 24.0) for h in reversed(range(72))], evidence=evidence)


def test_a_heat_wave_on_an_answering_probe_is_not_cut():
    memory, evidence = answering()
    assert isinstance(the(mass_learned).judge(three_days(4.5, evidence), memory)[0], Permit)


def test_twice_the_usual_for_three_days_is_cut_to_sixty_percent_for_three_days_even_on_an_answering_probe():
    memory, evidence = answering()
    verdict, memory = the(mass_learned).judge(three_days(4.9, evidence), memory)
    assert verdict.why.code == "mass.learned_cut"
    assert memory.latched is None
    quiet = fed(evidence=later(evidence, 71 * HOUR_S))
    verdict, memory = the(mass_learned).judge(quiet, memory)
    assert verdict.mass_g == pytest.approx(0.6 * 2.4 * 50.0)
    verdict, memory = the(mass_learned).judge(later(quiet, HOUR_S), memory)
    assert isinstance(verdict, Permit) or verdict.why.code == "mass.learned_day"


def test_a_silent_probe_is_held_to_half_again_the_usual_day_and_latched_by_three_days():
    memory, evidence = answering(amplitude_mv=0.0)
    verdict, memory = the(mass_learned).judge(fed((HOUR_S, 3.4), evidence=evidence), memory)
    assert verdict.mass_g == pytest.approx(0.2 * 50.0)
    verdict, memory = the(mass_learned).judge(three_days(3.2, evidence), memory)
    assert verdict.why.code == "mass.learned_latched"
    assert memory.latched is not None
    verdict, memory = the(mass_learned).judge(fed(evidence=later(evidence, 30 * DAY_S)), memory)
    assert verdict.mass_g == pytest.approx(0.3 * 2.4 * 50.0)


def test_a_hand_test_in_bounds_clears_the_learned_latch_and_a_high_one_does_not():
    memory, evidence = answering(amplitude_mv=0.0)
    busy = three_days(3.2, evidence)
    _, memory = the(mass_learned).judge(busy, memory)
    after = later(busy, HOUR_S)
    high = replace(after, tests=(a_test(Quantity.FREE_CHLORINE, 12.0, after.clock_s - 60.0),))
    assert the(mass_learned).judge(high, memory)[1].latched is not None
    good = replace(after, tests=(a_test(Quantity.FREE_CHLORINE, 3.0, after.clock_s - 60.0),))
    verdict, memory = the(mass_learned).judge(good, memory)
    assert isinstance(verdict, Permit)
    assert memory.latched is None


@pytest.mark.parametrize("days", [-30, 30])
def test_a_wall_clock_that_is_set_neither_clears_the_learned_latch_with_an_old_test_nor_keeps_it_from_a_new_one(days):
    memory, evidence = answering(amplitude_mv=0.0)
    busy = three_days(3.2, evidence)
    _, memory = the(mass_learned).judge(busy, memory)
    after = later(busy, HOUR_S)
    after = replace(after, now=replace(after.now, utc=after.now.utc + timedelta(days=days)))
    old = replace(after, tests=(a_test(Quantity.FREE_CHLORINE, 2.0, after.clock_s - 6 * DAY_S),))
    assert the(mass_learned).judge(old, memory)[1].latched is not None
    new = replace(after, tests=(a_test(Quantity.FREE_CHLORINE, 2.0, after.clock_s - 60.0),))
    assert the(mass_learned).judge(new, memory)[1].latched is None


def test_hand_tests_that_show_the_pool_to_lose_much_stand_in_for_an_answering_probe():
    """3.2 mg/L a day and 2 mg/L by both tests, a week apart: what is fed is lost, whatever the silent electrode says."""
    memory, evidence = answering(amplitude_mv=0.0)
    times = [evidence.clock_s - n * DAY_S - HOUR_S for n in range(12, -1, -1)]
    busy = fed(*((evidence.clock_s - at_s, 3.2) for at_s in times), evidence=evidence)
    tests = tuple(a_test(Quantity.FREE_CHLORINE, 2.0, evidence.clock_s - days * DAY_S) for days in (11.0, 4.0))
    assert isinstance(the(mass_learned).judge(replace(busy, tests=tests), memory)[0], Permit)
    assert the(mass_learned).judge(replace(busy, tests=tests[1:]), memory)[1].latched is not None


def test_where_hand_tests_show_that_what_is_fed_is_lost_the_day_may_go_to_its_ceiling():
    """5 mg/L a day and 1.5 mg/L by both tests: algae take it. Once too much could be there the installation's limit holds."""
    eaten = fed(*((n * DAY_S + HOUR_S, 5.0) for n in range(11, -1, -1)))
    low = tuple(a_test(Quantity.FREE_CHLORINE, 1.5, CLOCK_S - days * DAY_S) for days in (8.5, 1.5))
    verdict, _ = the(mass_day).judge(replace(eaten, tests=low), FRESH)
    assert isinstance(verdict, Permit)
    more = replace(fed(*((n * DAY_S + HOUR_S, 7.7) for n in range(11, -1, -1))), tests=low)
    verdict, _ = the(mass_day).judge(more, FRESH)
    assert verdict.mass_g == pytest.approx(0.3 * 50.0)
    assert verdict.why.fact("limit_mg_l") == 8.0
    for tests in (low[1:], (low[0], replace(low[1], value=7.0))):
        assert the(mass_day).judge(replace(eaten, tests=tests), FRESH)[0].mass_g == 0.0
    held = mass_day.KIND.build(SITE, mass_day.MassDayParams(chlorine_mg_l=4.0, chlorine_most_mg_l=4.0))[0]
    assert held.judge(replace(eaten, tests=low), FRESH)[0].mass_g == 0.0


def test_a_hand_test_that_finds_little_ends_the_cut_and_the_sum_of_the_days_before_it_does_not_begin_the_next():
    """The sentence says that a test clears it at once; it lasts as long as what is fed since can't be too much."""
    memory, evidence = answering()
    busy = three_days(4.9, evidence)
    _, memory = the(mass_learned).judge(busy, memory)
    after = later(busy, HOUR_S)
    high = replace(after, tests=(a_test(Quantity.FREE_CHLORINE, 9.0, after.clock_s - 60.0),))
    assert isinstance(the(mass_learned).judge(high, memory)[0], Limit)
    tested = replace(after, tests=(a_test(Quantity.FREE_CHLORINE, 2.0, after.clock_s - 60.0),))
    for _ in range(2):
        verdict, memory = the(mass_learned).judge(tested, memory)
        assert isinstance(verdict, Permit)
        tested = later(tested, 60.0)
    again = three_days(4.9, later(tested, 73 * HOUR_S))
    assert the(mass_learned).judge(again, memory)[0].why.code in ("mass.learned_cut", "mass.learned_latched")


def test_a_hungry_pool_that_hand_tests_show_to_be_far_from_too_much_is_not_cut():
    """5 mg/L a day, 2.4 and then 1.2 mg/L by the tests a week apart, two days ago: what was fed is lost, not there."""
    memory, evidence = answering()
    times = [evidence.clock_s - n * DAY_S - HOUR_S for n in range(12, -1, -1)]
    busy = fed(*((evidence.clock_s - at_s, 5.0) for at_s in times), evidence=evidence)
    tests = tuple(
        a_test(Quantity.FREE_CHLORINE, value, evidence.clock_s - days * DAY_S) for value, days in ((2.4, 10.5), (1.2, 3.5))
    )
    shown = replace(busy, tests=tests)
    assert isinstance(the(mass_learned).judge(shown, memory)[0], Permit)
    assert the(mass_learned).judge(busy, memory)[0].why.code == "mass.learned_cut"


def test_a_young_hand_test_that_finds_little_lets_the_day_go_to_its_ceiling_as_long_as_too_much_can_not_be_there():
    """A party took all: what was fed before the test is gone, and the test shows it."""
    party = fed((20 * HOUR_S, 2.5), (6 * HOUR_S, 2.5))
    found = replace(party, tests=(a_test(Quantity.FREE_CHLORINE, 0.3, CLOCK_S - 2 * HOUR_S),))
    assert the(mass_day).judge(party, FRESH)[0].mass_g == 0.0
    assert isinstance(the(mass_day).judge(found, FRESH)[0], Permit)
    plenty = replace(party, tests=(a_test(Quantity.FREE_CHLORINE, 8.0, CLOCK_S - 2 * HOUR_S),))
    assert the(mass_day).judge(plenty, FRESH)[0].mass_g == 0.0
    since = replace(fed((4 * HOUR_S, 7.8)), tests=(a_test(Quantity.FREE_CHLORINE, 0.3, CLOCK_S - 5 * HOUR_S),))
    assert the(mass_day).judge(since, FRESH)[0].mass_g == 0.0


def test_a_pool_that_hardly_fed_for_a_fortnight_can_wake_up_in_spring():
    memory, evidence = answering()
    winter = a_standing(SITE, daily_use_mg_l=((Substance.CHLORINE, (0.2,) * 14),))
    verdict, _ = the(mass_learned).judge(replace(three_days(1.5, evidence), standing=winter), memory)
    assert isinstance(verdict, Permit)


@pytest.mark.parametrize(
    ("module", "ago_s", "limit_mg_l"), [(mass_hour, 600.0, 1.0), (mass_day, 20 * HOUR_S, 5.0), (mass_learned, DAY_S / 2, 3.6)]
)
@pytest.mark.parametrize(("left_mg_l", "kind"), [(0.55, Permit), (0.45, Limit)])
def test_a_window_is_told_as_a_limit_once_less_than_half_a_milligram_is_left_in_it(module, ago_s, limit_mg_l, left_mg_l, kind):
    verdict, _ = the(module).judge(fed((ago_s, limit_mg_l - left_mg_l)), FRESH)
    assert isinstance(verdict, kind)


@pytest.mark.parametrize(("hours_ago", "kind"), [(71.0, Permit), (73.0, Limit)])
def test_a_hand_test_speaks_for_the_electrode_for_three_days(hours_ago, kind):
    tests = (a_test(Quantity.FREE_CHLORINE, 3.0, CLOCK_S - hours_ago * HOUR_S),)
    verdict, _ = the(mass_learned).judge(replace(fed((DAY_S / 2, 3.4)), tests=tests), FRESH)
    assert isinstance(verdict, kind)


def test_a_pool_that_takes_next_to_nothing_may_still_take_a_day_of_one_and_a_half_milligrams():
    little = a_standing(SITE, daily_use_mg_l=((Substance.CHLORINE, (0.3,) * 14),))
    verdict, _ = the(mass_learned).judge(replace(fed((DAY_S / 2, 1.2)), standing=little), FRESH)
    assert isinstance(verdict, Limit)
    assert verdict.mass_g == pytest.approx(0.3 * 50.0)
