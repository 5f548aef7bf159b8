"""A hand test above the upper limit holds chlorine until what it found has faded, whatever electrode and estimate say."""

from dataclasses import replace
from math import exp

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dosectl.core.interlocks.guard import FRESH
from dosectl.core.interlocks.guards import high_tested
from dosectl.model.feeds import Substance
from dosectl.model.requests import RequestId
from dosectl.model.verdicts import Limit, Permit
from dosectl.model.water_tests import Quantity
from tests.builders import CELL, CLOCK_S, a_ledger, a_site, a_standing, a_test, an_evidence

DAY_S = 86400.0
SITE = a_site()
(GUARD,) = high_tested.KIND.build(SITE, None)
NEW = a_standing(SITE, daily_use_mg_l=((Substance.CHLORINE, ()), (Substance.ACID, ())))  # no usual use is known


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


def test_a_test_above_the_limit_lets_nothing_be_fed_until_it_has_faded():
    """Limit at 50 mg/L of stabiliser: 10 mg/L (upper free-chlorine limit, `chemistry.chlorine`). Usual use 2.4 mg/L a day, half
    of it counts: 12 mg/L are 9 after two and a half days."""
    assert room_mg_l(chlorine(12.0, 0.0)) == 0.0
    assert room_mg_l(chlorine(12.0, 2.4)) == 0.0
    assert room_mg_l(chlorine(12.0, 3.0)) == pytest.approx(9.0 - (12.0 - 3 * 1.2))
    assert room_mg_l(chlorine(12.0, 6.9)) == pytest.approx(9.0 - (12.0 - 6.9 * 1.2))


def test_without_a_learnt_use_it_fades_by_a_tenth_a_day():
    assert room_mg_l(chlorine(12.0, 2.8), standing=NEW) == 0.0
    assert room_mg_l(chlorine(12.0, 5.0), standing=NEW) == pytest.approx(9.0 - 12.0 * exp(-0.5))


def test_what_was_fed_since_counts_in_full():
    free = room_mg_l(chlorine(12.0, 5.0))
    assert room_mg_l(chlorine(12.0, 5.0), fed=((1.0, 0.7), (4.0, 0.5))) == pytest.approx(free - 1.2)
    assert room_mg_l(chlorine(12.0, 5.0), fed=((6.0, 0.7),)) == pytest.approx(free)
    assert room_mg_l(chlorine(12.0, 5.0), fed=((1.0, 7.0),)) == 0.0


def test_it_says_what_was_found_and_what_to_do():
    verdict = judged(chlorine(10.6, 0.1))
    assert verdict.why.code == "high.tested_over"
    facts = dict(verdict.why.facts)
    assert (facts["tested"], facts["limit_mg_l"], facts["room_mg_l"]) == (10.6, 10.0, 0.0)
    assert "withdraw a slip" in high_tested.OVER.words
    assert "Nobody swims" in high_tested.OVER.words


@pytest.mark.parametrize("value", [0.0, 3.0, 9.9])
def test_below_the_limit_it_says_nothing(value):
    assert isinstance(judged(chlorine(value, 0.0)), Permit)


def test_a_newer_test_below_the_limit_ends_it_and_an_older_one_does_not():
    assert isinstance(judged(chlorine(12.0, 1.0), chlorine(4.0, 0.5, "t2")), Permit)
    assert room_mg_l(chlorine(4.0, 1.0), chlorine(12.0, 0.5, "t2")) == 0.0
    assert room_mg_l(chlorine(12.0, 0.5), chlorine(4.0, 1.0, "late")) == 0.0


def test_it_ends_after_a_week_and_without_a_test():
    assert isinstance(judged(chlorine(12.0, 7.01)), Permit)
    assert isinstance(judged(chlorine(12.0, 6.99)), Limit)
    assert isinstance(judged(), Permit)


def test_a_test_from_the_future_holds_too():
    assert room_mg_l(chlorine(12.0, -1.0)) == 0.0


def test_a_slip_of_the_point_holds_no_longer_than_three_days():
    """30 typed for 3.0: counted as 12.5, of which 9 are left after some three days."""
    assert room_mg_l(chlorine(30.0, 2.8)) == 0.0
    assert room_mg_l(chlorine(30.0, 3.0)) == pytest.approx(room_mg_l(chlorine(12.5, 3.0)))
    assert room_mg_l(chlorine(30.0, 3.0)) > 0.0
    assert room_mg_l(chlorine(30.0, 3.4), standing=NEW) > 0.0


def test_the_limit_is_that_of_the_newest_stabiliser_test():
    """0.4 of the stabiliser, at least 5 mg/L: 8 at 20 mg/L, 5 at none."""
    assert room_mg_l(stabiliser(20.0), chlorine(8.2, 0.0)) == 0.0
    assert isinstance(judged(stabiliser(20.0), chlorine(7.8, 0.0)), Permit)
    assert room_mg_l(stabiliser(0.0), chlorine(5.2, 0.0)) == 0.0


def test_it_stands_before_each_feeder_of_chlorine_and_no_other():
    assert GUARD.feeders == (CELL,)
    assert high_tested.KIND.build(replace(SITE, feeders=()), None) == ()


@given(st.floats(10.0, 12.5), st.sampled_from([(), (0.4,) * 14, (2.4,) * 14, (6.0,) * 14]), st.floats(1.0, 3.0))
def test_who_feeds_all_that_it_allows_never_passes_the_limit_again(found, used, faster):
    """A pool that loses as little as is counted, or faster, and a control that takes all of the room each six hours."""
    standing = a_standing(SITE, daily_use_mg_l=((Substance.CHLORINE, used), (Substance.ACID, ())))
    usual = used[0] if used else 0.0
    there, fed = found, ()
    for quarter in range(28):
        at_days = quarter / 4.0
        ago = tuple((at_days - then, mg_l) for then, mg_l in fed)
        room = room_mg_l(chlorine(found, at_days), fed=ago, standing=standing)
        fed, there = (*fed, (at_days, room)), there + room
        assert there <= max(found, 9.0 + 1e-6)
        assert room == 0.0 or there <= 9.0 + 1e-6
        there -= faster * max(there * (1.0 - exp(-0.025)), 0.125 * usual)
        there = max(there, 0.0)
    assert sum(mg_l for _, mg_l in fed) > 0.0  # and it starves no pool for the week
