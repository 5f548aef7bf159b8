"""Tests of alkalinity that are typed in another order than they were taken in: a laboratory's result comes days later."""

from dataclasses import replace

import pytest

from dosectl.model.requests import RequestId
from dosectl.model.water_tests import Quantity, WaterTest
from tests.estimate.test_since import Pool

HOUR_MIN = 60


def typed(pool: Pool, name: str, value: float, taken_min: int) -> WaterTest:
    return replace(pool.test(Quantity.ALKALINITY, value, 5.0, taken_min), request=RequestId(name))


def after(*tests: tuple[float, int], acid_mg_l: float = 0.0) -> Pool:
    """Each (value, taken) is typed an hour after the one before it, from minute 4000 on; acid is fed in between."""
    pool = Pool().until(4000)
    for number, (value, taken_min) in enumerate(tests):
        pool.minute(typed(pool, f"t{number}", value, taken_min))
        for minute in range(HOUR_MIN):
            pool.minute(acid_mg_l=acid_mg_l if minute == 30 else 0.0)
    return pool


@pytest.mark.parametrize("acid_mg_l", [0.0, 5.0])
@pytest.mark.parametrize("older", [(40.0, 1800), (120.0, 1000), (140.0, 600)])
def test_an_older_test_of_alkalinity_does_not_undo_a_newer_one(older: tuple[float, int], acid_mg_l: float) -> None:
    """80 of now and then 40 of a day and a half ago were 39; 70 and then 140 of a fortnight ago 133, and so the acid."""
    newer = (75.0, 3990)
    in_order, backwards = after(older, newer, acid_mg_l=acid_mg_l), after(newer, older, acid_mg_l=acid_mg_l)
    assert backwards.alkalinity_mg_l == pytest.approx(in_order.alkalinity_mg_l, abs=4.0)
    assert backwards.est.alkalinity_var == pytest.approx(in_order.est.alkalinity_var, rel=0.2)
    assert backwards.alkalinity_mg_l == pytest.approx(75.0 - acid_mg_l, abs=8.0)


def test_three_typed_backwards_end_as_in_order() -> None:
    tests = ((110.0, 600), (90.0, 2000), (75.0, 3990))
    assert after(*reversed(tests)).alkalinity_mg_l == pytest.approx(after(*tests).alkalinity_mg_l, abs=4.0)


def test_one_that_is_the_newest_still_makes_the_estimate_give_way() -> None:
    """Somebody put in bicarbonate and did not say so."""
    assert after((60.0, 1000), (110.0, 3990)).alkalinity_mg_l == pytest.approx(110.0, abs=6.0)


@pytest.mark.parametrize("slip", [120.0, 150.0, 170.0, 190.0])
def test_an_older_slip_does_not_undo_two_newer_tests_that_agree(slip: float) -> None:
    """170 of five days ago, typed after 75 and 70 of now, was believed, and both of them doubted."""
    pool = Pool().until(7600)
    for name, value, taken_min in (("a", 75.0, 7590), ("b", 70.0, 7600), ("slip", slip, 400)):
        pool.minute(typed(pool, name, value, taken_min))
    assert pool.alkalinity_mg_l == pytest.approx(72.5, abs=4.0)
    pool.minute(typed(pool, "c", 70.0, 7603))
    assert pool.alkalinity_mg_l == pytest.approx(71.5, abs=4.0)


def test_a_slip_that_was_tested_once_more_does_not_come_back_with_an_older_result() -> None:
    """150, once more of the same sample 80, then a laboratory's 85 of days before: 149.6 was believed."""
    pool = Pool().until(7600)
    pool.minute(typed(pool, "slip", 150.0, 7590))
    pool.minute(typed(pool, "once more", 80.0, 7590))
    pool.minute(typed(pool, "laboratory", 85.0, 400))
    assert pool.alkalinity_mg_l == pytest.approx(81.0, abs=4.0)
