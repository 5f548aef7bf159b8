"""The gap of a lost or restored record: chlorine by shares of half an hour for a day, acid not before the water was tested."""

from dataclasses import replace

import pytest

from dosectl.core.interlocks.guard import FRESH
from dosectl.core.interlocks.guards import record_gap
from dosectl.model.verdicts import Denial, Limit, Permit
from dosectl.model.water_tests import Quantity
from tests.builders import ACID, CELL, a_ledger, a_site, a_test, an_evidence, later, with_facts

SITE = a_site()
HEALTHY = an_evidence(SITE)
HOUR_S, DAY_S = 3600.0, 86400.0
RATE_G_DAY = 0.6 * 2.4 * 50.0  # of the usual 2.4 mg/L a day in 50 m3
CHLORINE, OTHERS = record_gap.KIND.build(SITE, None)


def obeyed(evidence, node_no, command_no):
    return with_facts(evidence, CELL, node_no=node_no, command_no=command_no)


GAP = obeyed(HEALTHY, 2402, 1000)


def after(passed_s, *fed, from_s=0.0):
    """Evidence so long after a gap was found, our numbers being above the node's; fed = (seconds after it, chlorine in g)."""
    ledger = a_ledger(SITE, {CELL: tuple((HEALTHY.clock_s + at_s, mass_g) for at_s, mass_g in fed)})
    return replace(obeyed(later(HEALTHY, from_s + passed_s), 2403, 2403), ledger=ledger)


def with_tests(evidence, ago_s, *quantities):
    return replace(evidence, tests=tuple(a_test(quantity, 7.4, evidence.clock_s - ago_s) for quantity in quantities))


def room(evidence, memory):
    verdict, _ = CHLORINE.judge(evidence, memory)
    assert isinstance(verdict, Limit)
    return verdict.mass_g


def test_no_gap_where_the_node_knows_of_no_later_command():
    for guard in (CHLORINE, OTHERS):
        verdict, memory = guard.judge(obeyed(HEALTHY, 1500, 1500), FRESH)
        assert isinstance(verdict, Permit)
        assert guard.judge(later(HEALTHY, 60.0), memory) == (verdict, FRESH)


def test_a_node_that_obeyed_later_commands_bounds_chlorine_for_a_day():
    verdict, memory = CHLORINE.judge(GAP, FRESH)
    assert isinstance(verdict, Limit)
    assert (verdict.why.fact("node_no"), verdict.why.fact("own_no")) == (2402, 1000)
    assert verdict.why.fact("rate_mg_l_day") == pytest.approx(1.44)
    assert isinstance(CHLORINE.judge(after(DAY_S - 1.0), memory.restarted())[0], Limit)
    assert CHLORINE.judge(after(DAY_S), memory.restarted()) == (Permit(record_gap.CODE), FRESH)


def test_right_after_a_gap_no_chlorine_is_left_and_each_half_hour_brings_its_share():
    """The window of a day is empty then, however much was fed: 60 % at once would come anew with each gap."""
    _, memory = CHLORINE.judge(GAP, FRESH)
    assert room(GAP, FRESH) == 0.0
    assert room(after(0.5 * HOUR_S - 1.0), memory) == 0.0
    assert room(after(0.5 * HOUR_S), memory) == pytest.approx(RATE_G_DAY / 48)
    assert room(after(HOUR_S - 1.0), memory) == pytest.approx(RATE_G_DAY / 48)
    assert room(after(DAY_S - 1.0), memory) == pytest.approx(RATE_G_DAY * 47 / 48)


def test_what_was_fed_since_the_gap_is_taken_off_and_never_is_there_more_than_the_days_window_leaves():
    _, memory = CHLORINE.judge(GAP, FRESH)
    assert room(after(6 * HOUR_S, (HOUR_S + 5.0, 3.0), (5 * HOUR_S, 8.0)), memory) == pytest.approx(RATE_G_DAY / 4 - 11.0)
    assert room(after(2 * HOUR_S, (HOUR_S, 30.0)), memory) == 0.0
    known = after(12 * HOUR_S, (-HOUR_S, 50.0), (HOUR_S, 3.0))  # an old copy may know of today's feeds
    assert room(known, memory) == pytest.approx(RATE_G_DAY - 53.0)
    assert room(after(12 * HOUR_S, (-13 * HOUR_S, 50.0)), memory) == pytest.approx(RATE_G_DAY / 2)


def test_another_gap_begins_the_hold_anew():
    _, memory = CHLORINE.judge(GAP, FRESH)
    _, held = OTHERS.judge(GAP, FRESH)
    again = obeyed(after(20 * HOUR_S), 4000, 2403)
    limit, memory = CHLORINE.judge(again, memory.restarted())
    _, held = OTHERS.judge(again, held.restarted())
    assert limit.mass_g == 0.0
    assert limit.why.fact("own_no") == 2403
    assert room(after(2 * HOUR_S, from_s=20 * HOUR_S), memory) == pytest.approx(RATE_G_DAY / 12)
    assert room(after(DAY_S - 1.0, from_s=20 * HOUR_S), memory) > 0.0
    assert isinstance(CHLORINE.judge(after(DAY_S, from_s=20 * HOUR_S), memory)[0], Permit)
    between = with_tests(after(HOUR_S, from_s=20 * HOUR_S), 2 * HOUR_S, Quantity.PH, Quantity.ALKALINITY)
    assert isinstance(OTHERS.judge(between, held)[0], Denial)


def test_acid_waits_for_both_tests_however_long_they_take():
    """A day makes the windows whole, but not what acid may have used of the alkalinity since its last test."""
    denial, memory = OTHERS.judge(GAP, FRESH)
    assert isinstance(denial, Denial)
    assert denial.why.fact("until_utc") is None
    assert denial.clears_by == "test"
    for days in (0.5, 1.0, 2.0, 60.0):
        denial, memory = OTHERS.judge(after(days * DAY_S), memory.restarted())
        assert isinstance(denial, Denial)
    late = after(61.0 * DAY_S)
    for quantity in (Quantity.PH, Quantity.ALKALINITY):
        assert isinstance(OTHERS.judge(with_tests(late, 60.0, quantity), memory)[0], Denial)
    assert OTHERS.judge(with_tests(late, 60.0, Quantity.PH, Quantity.ALKALINITY), memory) == (Permit(record_gap.CODE), FRESH)


def test_tests_taken_after_it_end_the_doubt_of_a_gap_and_older_ones_do_not():
    _, memory = CHLORINE.judge(GAP, FRESH)
    _, held = OTHERS.judge(GAP, FRESH)
    evidence = after(HOUR_S)
    assert isinstance(CHLORINE.judge(with_tests(evidence, HOUR_S, Quantity.FREE_CHLORINE), memory)[0], Limit)
    assert isinstance(CHLORINE.judge(with_tests(evidence, HOUR_S - 1.0, Quantity.FREE_CHLORINE), memory)[0], Permit)
    assert isinstance(OTHERS.judge(with_tests(evidence, HOUR_S, Quantity.PH, Quantity.ALKALINITY), held)[0], Denial)
    assert isinstance(OTHERS.judge(with_tests(evidence, HOUR_S - 1.0, Quantity.PH, Quantity.ALKALINITY), held)[0], Permit)


def test_it_stands_before_acid_and_chlorine_alike():
    assert (CHLORINE.feeders, OTHERS.feeders) == ((CELL,), (ACID,))
