"""A hand test above the upper limit holds chlorine, whatever electrode and estimate say."""

from dataclasses import replace

import pytest

from dosectl.core.interlocks import fallback
from dosectl.core.interlocks.guard import FRESH
from dosectl.core.interlocks.guards import high_tested
from dosectl.model.feeds import Substance
from dosectl.model.requests import RequestId
from dosectl.model.verdicts import Limit, Permit
from dosectl.model.water_tests import Quantity
from tests.builders import CELL, CLOCK_S, a_ledger, a_site, a_standing, a_test, an_evidence

DAY_S = 86400.0
SITE = a_site()  # 50 m3 and 50 mg/L of stabiliser: an upper limit of 10 mg/L
(GUARD,) = high_tested.KIND.build(SITE, None)


def chlorine(value, days_ago, name="t1"):
    return a_test(Quantity.FREE_CHLORINE, value, CLOCK_S - days_ago * DAY_S, request=RequestId(name))


def stabiliser(value):
    return a_test(Quantity.STABILISER, value, CLOCK_S - 3 * DAY_S, request=RequestId("cya"))


def judged(*tests, fed=(), **changes):
    ledger = a_ledger(SITE, {CELL: tuple((CLOCK_S - days * DAY_S, 50.0 * mg_l) for days, mg_l in fed)})
    verdict, memory = GUARD.judge(an_evidence(SITE, tests=tests, ledger=ledger, **changes), FRESH)
    assert memory == FRESH
    return verdict


def room_mg_l(*tests, **more):
    verdict = judged(*tests, **more)
    assert isinstance(verdict, Limit)
    return verdict.mass_g / 50.0


def test_after_a_test_above_the_limit_nothing_is_fed_for_a_day_and_then_twice_the_usual():
    assert room_mg_l(chlorine(10.0, 0.0)) == 0.0
    assert room_mg_l(chlorine(12.0, 0.999)) == 0.0
    assert room_mg_l(chlorine(12.0, 1.001)) == pytest.approx(4.8)
    assert room_mg_l(chlorine(12.0, 6.99)) == pytest.approx(4.8)


def test_what_was_fed_in_the_last_day_counts_against_the_usual_use():
    assert room_mg_l(chlorine(12.0, 3.0), fed=((2.0, 2.0), (0.9, 0.7), (0.1, 0.5))) == pytest.approx(4.8 - 1.2)
    assert room_mg_l(chlorine(12.0, 3.0), fed=((0.5, 4.9),)) == 0.0


def test_the_usual_use_is_that_of_this_pool_where_it_is_learnt():
    # a guess until a fortnight is known, and never nothing: a pool that took nothing all winter must be able to wake up
    for days, usual in (((6.0,) * 14, 6.0), ((6.0,) * 13, 2.5), ((0.0,) * 14, fallback.LEAST_USUAL_MG_L)):
        standing = a_standing(SITE, daily_use_mg_l=((Substance.CHLORINE, days), (Substance.ACID, ())))
        assert room_mg_l(chlorine(12.0, 3.0), standing=standing) == pytest.approx(2.0 * usual)


def test_it_says_what_was_found_and_what_to_do():
    verdict = judged(chlorine(10.6, 0.1))
    assert verdict.why.code == "high.tested_over"
    facts = dict(verdict.why.facts)
    assert (facts["tested"], facts["limit_mg_l"], facts["rate_mg_l_day"]) == (10.6, 10.0, 4.8)
    assert "withdraw a slip" in high_tested.OVER.words
    assert "nobody swims" in high_tested.OVER.words


@pytest.mark.parametrize("value", [0.0, 3.0, 9.99])
def test_below_the_limit_it_says_nothing(value):
    assert isinstance(judged(chlorine(value, 0.0)), Permit)


def test_a_newer_test_below_the_limit_ends_it_and_an_older_one_does_not():
    assert isinstance(judged(chlorine(12.0, 1.0), chlorine(4.0, 0.5, "t2")), Permit)
    assert room_mg_l(chlorine(4.0, 1.0), chlorine(12.0, 0.5, "t2")) == 0.0
    assert room_mg_l(chlorine(12.0, 0.5), chlorine(4.0, 1.0, "late")) == 0.0


ENDED_BY = [
    ("colour", 3.0, False),
    ("photometer", 23.0, False),
    ("colour", 25.0, False),
    ("photometer", 71.0, False),
    ("colour", 73.0, True),
    ("drops", 3.0, True),
    ("strips", 3.0, True),
]


@pytest.mark.parametrize(("method", "hours", "ends"), ENDED_BY)
def test_a_colour_that_so_much_chlorine_bleaches_does_not_end_it_within_three_days(method, hours, ends):
    """Common practice: the colour of DPD bleaches above about 10 mg/L and then reads low or none. A pool in little sun that was
    tested at 12.8 had 10.9 a day later; a photometer said 1.5, and it was fed."""
    low = replace(chlorine(0.0, 0.1, "t2"), method=method)
    over = chlorine(14.0, 0.1 + hours / 24.0)
    assert isinstance(judged(over, low), Permit) is ends


def test_a_slip_of_a_colour_test_is_mended_by_another_colour_test():
    over = replace(chlorine(30.0, 0.2), method="colour")
    assert isinstance(judged(over, replace(chlorine(3.0, 0.1, "t2"), method="colour")), Permit)


def by_colour(value, days, name):
    return replace(chlorine(value, days, name), method="colour")


@pytest.mark.parametrize("method", ["colour", "photometer"])
def test_a_colour_of_next_to_nothing_after_a_high_one_is_a_bleached_one(method):
    over = replace(chlorine(12.0, 0.2), method=method)
    for value, ends in ((0.0, False), (0.9, False), (1.0, True)):
        assert isinstance(judged(over, by_colour(value, 0.1, "t2")), Permit) is ends
    before = replace(over, taken_s=over.taken_s - 2.5 * DAY_S)
    assert room_mg_l(before, by_colour(0.0, 0.1, "t2")) == pytest.approx(4.8)
    assert isinstance(judged(replace(over, taken_s=over.taken_s - 3.0 * DAY_S), by_colour(0.0, 0.1, "t2")), Permit)


def test_a_high_colour_between_does_not_let_a_low_one_end_what_drops_have_found():
    drops, colour = chlorine(12.0, 0.3), by_colour(11.0, 0.2, "t2")
    assert room_mg_l(drops, colour, by_colour(3.0, 0.1, "t3")) == 0.0
    assert isinstance(judged(drops, colour, chlorine(3.0, 0.15, "t3"), by_colour(0.2, 0.1, "t4")), Permit)


def test_it_ends_after_a_week_and_is_nothing_without_a_test():
    assert isinstance(judged(chlorine(12.0, 7.001)), Permit)
    assert isinstance(judged(), Permit)


def test_a_test_from_the_future_holds_too():
    assert room_mg_l(chlorine(12.0, -1.0)) == 0.0


def test_the_limit_is_that_of_the_newest_stabiliser_test():
    """0.4 of the stabiliser, at least 5 mg/L and at most 10 (`upper_free_chlorine_limit_mg_l`): 8 at 20 mg/L, 5 at none."""
    assert room_mg_l(stabiliser(20.0), chlorine(8.0, 0.0)) == 0.0
    assert isinstance(judged(stabiliser(20.0), chlorine(7.9, 0.0)), Permit)
    assert room_mg_l(stabiliser(0.0), chlorine(5.0, 0.0)) == 0.0
    assert isinstance(judged(stabiliser(2000.0), chlorine(9.9, 0.0)), Permit)


@pytest.mark.parametrize(("found", "times"), [(0.0, 2.0), (50.0, 2.0), (80.0, 8.0 / 6.0), (150.0, 1.0)])
def test_where_the_target_lies_near_the_limit_less_is_let_through(found, times):
    """7.5 % of the stabiliser is the larger of the two rules of thumb (common practice), 2 mg/L the least."""
    assert room_mg_l(stabiliser(found), chlorine(12.0, 2.0)) == pytest.approx(times * 2.4)


def test_it_stands_before_each_feeder_of_chlorine_and_no_other():
    assert GUARD.feeders == (CELL,)
    assert high_tested.KIND.build(replace(SITE, feeders=()), None) == ()
