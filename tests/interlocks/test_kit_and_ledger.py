"""What else speaks beside a contradicted test: the ledger, readings that are missing, and tests that go the way of the ORP."""

from dataclasses import replace

import pytest

from dosectl.core.interlocks import contradiction, shown
from dosectl.model.water_tests import Settled
from tests.builders import CELL, CLOCK_S, a_ledger
from tests.interlocks.test_kit_contradicted import DAY_S, HEALTHY, SITE, Course, apart, held


def fed(mg_l_day, from_days, until_days=0.0):
    """A ledger of one entry an hour, of the days so long ago."""
    hours = range(round((from_days - until_days) * 24.0))
    return a_ledger(SITE, {CELL: tuple((CLOCK_S - from_days * DAY_S + 3600.0 * n, mg_l_day / 24.0 * 50.0) for n in hours)})


@pytest.mark.parametrize(
    ("mg_l_day", "since_days", "rate"), [(1.8, 30.0, 1.8), (0.3, 30.0, 1.0), (1.8, 11.1, 1.8), (1.8, 10.9, 2.4)]
)
def test_a_contradicted_test_lets_be_fed_what_the_water_took_before_kit_and_electrode_parted(mg_l_day, since_days, rate):
    """A new pool's usual use is a guess, and a pool that took far less came to 15 mg/L by it; with less than three days it is all
    that is known. Some chlorine is always fed."""
    tests = Course().taken(8.0, 3.0).taken(0.1, 0.0, 712.0)
    evidence = tests.seen(ledger=fed(mg_l_day, since_days, 8.0))
    assert held(evidence)[0].why.fact("rate_mg_l_day") == pytest.approx(rate, rel=0.02)


def test_what_was_fed_on_the_word_of_such_a_test_does_not_count_as_what_the_water_takes():
    tests = Course().taken(8.0, 3.0).taken(6.0, 0.0, 712.0)
    before, since = fed(1.5, 22.0, 8.0).feeders[0], fed(4.0, 8.0).feeders[0]
    totals = tuple(before.totals_g[-1] + g for g in since.totals_g)
    book = replace(before, times_s=(*before.times_s, *since.times_s), totals_g=(*before.totals_g, *totals))
    evidence = tests.seen(ledger=replace(fed(1.5, 22.0), feeders=(book, *fed(1.5, 22.0).feeders[1:])))
    assert held(evidence)[0].why.fact("rate_mg_l_day") == pytest.approx(1.5, rel=0.02)


@pytest.mark.parametrize(("before", "cya", "share"), [(6.0, 50.0, 2.0), (9.0, 50.0, 1.0), (3.2, 0.0, 2.0), (4.8, 0.0, 1.0)])
def test_an_orp_that_has_not_risen_from_near_the_upper_limit_gives_no_more(before, cya, share):
    """10 mg/L at a stabiliser of 50, 5 without: a shock of 9.5 and one slip of 0.0 made 10.8 mg/L."""
    site = replace(SITE, pool=replace(SITE.pool, stabiliser_mg_l=cya))
    tests = Course().taken(3.0, before).taken(0.1, 0.0, 712.0)
    evidence = replace(tests.seen(settled=Settled(CLOCK_S, 702.0, 7.5)), site=site, ledger=a_ledger(SITE))
    assert held(evidence)[0].why.fact("rate_mg_l_day") == pytest.approx(share * 2.4, rel=0.02)


def test_a_test_beside_which_nothing_was_read_opens_nothing_where_others_could_be_set_against_it():
    """Typed 30 h late each day, a kit that says nothing took a pool to 11.7 mg/L, and nobody was told."""
    read = Settled(CLOCK_S, 700.0, 7.5)
    assert not shown.shown_safe(Course().taken(7.0, 3.0).taken(1.0, 0.0, orp_mv=None).seen(settled=read))
    assert shown.shown_safe(Course().taken(7.0, 3.0, orp_mv=None).taken(1.0, 0.5, orp_mv=None).seen(settled=read))
    assert shown.shown_safe(Course().taken(20.0, 3.0).taken(1.0, 0.5, 700.0).seen(settled=read))


@pytest.mark.parametrize(("settled_ago_h", "opens"), [(None, True), (27.0, True), (25.0, False)])
def test_where_the_probes_are_gone_honest_tests_open_what_they_can(settled_ago_h, opens):
    """A lost cable made every test worthless: with the containers full and a test each third day a pool was empty on day 8."""
    settled = None if settled_ago_h is None else Settled(CLOCK_S - settled_ago_h * 3600.0, 700.0, 7.5)
    tests = Course().taken(7.0, 3.0).taken(1.0, 0.5, orp_mv=None)
    assert shown.shown_safe(tests.seen(settled=settled)) is opens


def test_a_reference_of_more_than_a_fortnight_ago_holds_no_test_without_reading_back():
    tests = Course().taken(20.0, 3.0).taken(1.0, 0.5, orp_mv=None)
    assert shown.shown_safe(tests.seen(settled=Settled(CLOCK_S, 700.0, 7.5)))


@pytest.mark.parametrize(
 ("first", "then", "opens"),
    [
        ((1.0, 686.0), (2.6, 698.0), True),  # it went the way of the ORP
        ((1.0, 686.0), (1.0, 690.0), False),  # it says what it said
        ((0.2, 672.0), (0.8, 684.0), False),  # between nothing and a trace is no course
    ],
)  # fmt: skip
def test_a_kit_that_is_seen_to_go_the_way_of_the_orp_is_fresh_again(first, then, opens):
    """A new bottle: for a fortnight honest tests were refused for what the old one had said, and the pool lay dead."""
    tests = Course().taken(12.0, 3.0).taken(9.0, 0.3, 706.0)
    assert apart(tests)
    tests = tests.taken(6.0, *first).taken(1.0, *then)
    assert not apart(tests)
    assert shown.shown_safe(tests.seen()) is opens


def test_what_a_kit_says_between_nothing_and_a_trace_ends_no_contradiction_while_the_orp_rises():
    tests = Course().taken(12.0, 3.0)
    for days_ago, value, orp_mv in ((6.0, 0.0, 712.0), (5.0, 0.5, 716.0), (4.0, 0.1, 716.0), (3.0, 0.8, 722.0)):
        tests = tests.taken(days_ago, value, orp_mv)
        assert apart(tests)


def test_a_second_method_that_agrees_with_the_orp_makes_no_liar_of_the_electrode():
    """Strips of 1.1 +- 0.5 agree with a drops test of 0.0, and with an ORP that has not moved since 1.5 as well."""
    tests = Course().taken(7.0, 1.5).taken(0.2, 0.0, 704.0)
    assert apart(tests)
    tests = tests.taken(0.1, 1.1, 704.0, method="strips", sigma=0.5)
    again = tests.taken(0.0, 0.0, 708.0)
    assert contradiction.judged(tests.seen()).refused_s is None  # strips were not refused; the drops were, and stay so
    assert apart(again)


def test_a_new_pool_whose_ledger_hardly_reaches_back_gets_what_it_took_until_they_parted():
    new = replace(HEALTHY.standing, daily_use_mg_l=())
    tests = Course().taken(5.0, 3.0).taken(0.1, 0.0, 712.0)
    evidence = tests.seen(standing=new, ledger=fed(1.2, 6.0))
    assert held(evidence)[0].why.fact("rate_mg_l_day") == pytest.approx(1.2, rel=0.03)
    assert held(replace(evidence, ledger=fed(1.2, 2.0)))[0].why.fact("rate_mg_l_day") == pytest.approx(2.5)


def test_what_the_water_took_more_than_a_fortnight_before_is_another_seasons():
    tests = Course().taken(8.0, 3.0).taken(0.1, 0.0, 712.0)
    early, late = fed(4.0, 36.0, 22.0).feeders[0], fed(1.5, 22.0, 8.0).feeders[0]
    totals = tuple(early.totals_g[-1] + g for g in late.totals_g)
    book = replace(early, times_s=(*early.times_s, *late.times_s), totals_g=(*early.totals_g, *totals))
    evidence = tests.seen(ledger=replace(fed(1.5, 22.0), feeders=(book, *fed(1.5, 22.0).feeders[1:])))
    assert held(evidence)[0].why.fact("rate_mg_l_day") == pytest.approx(1.5, rel=0.02)


@pytest.mark.parametrize(("orp_mv", "ends"), [(717.0, False), (720.0, True)])
def test_an_electrodes_wander_is_no_course_of_the_water(orp_mv, ends):
    """0.6 and a day later 1.3 mg/L: 3 mV and a day's drift may be the electrode's own."""
    tests = Course().taken(12.0, 3.0, 690.0).taken(3.0, 0.6, 715.0).taken(2.0, 1.3, orp_mv)
    assert apart(tests) is not ends
