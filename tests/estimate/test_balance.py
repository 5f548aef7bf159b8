"""What is lost between two tests says how much the pool takes, whatever the electrode says."""

from dataclasses import replace
from math import exp

import pytest

from dosectl.core.estimate.balance import DAYS_MAX, DAYS_MIN, use_balance
from dosectl.core.estimate.begin import start
from dosectl.core.estimate.filters import rows_of
from dosectl.core.estimate.params import EstimateParams
from dosectl.core.estimate.state import DEMAND, SUN, Balance
from dosectl.model.water_tests import Quantity
from tests.builders import CLOCK_S, a_site, a_test

PARAMS = EstimateParams()
DAY_S = 86400.0


def learnt(days: float, before: float, fed_mg_l: float, after: float, watched: float = 1.0) -> tuple[float, float]:
    """Demand at 3 mg/L and the sun's factor, in the shade of a usual day's light, after a balance over so many days."""
    est = start(a_site(), PARAMS)
    mean, p = list(est.mean), rows_of(est.cov)
    span_s = days * DAY_S
    balance = Balance("b", CLOCK_S - span_s, before, 0.2, fed_mg_l, 0.15 * span_s * watched, span_s * watched, span_s * watched)
    test = replace(a_test(Quantity.FREE_CHLORINE, after, CLOCK_S), sigma=0.2)
    use_balance(mean, p, PARAMS, balance, test, 7.5, 0.6)
    return exp(mean[DEMAND]), exp(mean[SUN])


def test_a_pool_that_rose_takes_less_than_was_believed_and_one_that_fell_more() -> None:
    usual = learnt(7.0, 3.0, 0.0, 3.0, watched=0.0)  # nobody watched: nothing is learnt
    less, more = learnt(7.0, 3.0, 7.0, 6.0), learnt(7.0, 3.0, 21.0, 1.0)
    assert less[0] < 0.75 * usual[0]
    assert less[1] < 0.75 * usual[1]
    assert more[0] > 1.3 * usual[0]


def test_what_was_lost_is_what_the_two_tests_and_the_feed_say() -> None:
    """Held at 3 mg/L with 2.0 mg/L a day: that is the loss. By hand: a first-order and a constant part of a demand are both
    whole at 3 mg/L (`chlorine.REFERENCE_FREE_MG_L`), so without light the demand is what was fed."""
    est = start(a_site(), PARAMS)
    mean, p = list(est.mean), rows_of(est.cov)
    p[DEMAND][DEMAND] = 4.0  # hardly known: it must come near what the balance says
    span_s = 10 * DAY_S
    balance = Balance("b", CLOCK_S - span_s, 3.0, 0.05, 20.0, 0.0, span_s, span_s)
    test = replace(a_test(Quantity.FREE_CHLORINE, 3.0, CLOCK_S), sigma=0.05)
    assert use_balance(mean, p, PARAMS, balance, test, 7.5, 0.6)
    assert exp(mean[DEMAND]) == pytest.approx(2.0, rel=0.15)


@pytest.mark.parametrize("days", [DAYS_MIN - 0.1, DAYS_MAX + 0.1])
def test_too_short_a_time_shows_the_error_of_the_tests_and_too_long_a_one_another_season(days: float) -> None:
    assert learnt(days, 3.0, 7.0, 6.0) == learnt(7.0, 3.0, 0.0, 3.0, watched=0.0)
