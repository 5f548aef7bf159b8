"""A test that finds next to nothing is believed at once, whatever was believed before."""

from math import log

import pytest

from dosectl.core.estimate.water_tests import _weigh
from dosectl.model.water_tests import Quantity
from tests.estimate.test_estimate import hand_test, pool_after_a_test


@pytest.mark.parametrize(("level", "sd"), [(2.64, 0.35), (1.7, 0.45), (1.2, 0.4)])
@pytest.mark.parametrize("found", [0.0, 0.1, 0.2])
def test_next_to_nothing_is_no_slip_of_the_decimal_point(level: float, sd: float, found: float) -> None:
    """0.1 was taken for a slip of 1.0 in a pool that ran empty, the more so the nearer the belief came to the truth."""
    test = hand_test(pool_after_a_test(5).pool, Quantity.FREE_CHLORINE, found, 0.25, "t")
    assert _weigh(log(level), sd * sd, 0.0, test)[1] == 1.0


@pytest.mark.parametrize("found", [0.0, 1.0, 5.0])
def test_stabiliser_does_not_go_unnoticed_so_next_to_none_of_it_is_asked_again(found: float) -> None:
    """One of none was believed at once, one of 5 mg/L doubted: chlorine of 3.3 to 4.1 was believed 1.0 to 1.5 after it."""
    watched = pool_after_a_test()
    before = watched.view.cya_mg_l
    watched.step(hand_test(watched.pool, Quantity.STABILISER, found, 5.0, "first"))
    assert watched.estimate.doubted == ("first",)
    assert watched.view.cya_mg_l > 0.8 * before
    watched.run(1.0)
    watched.step(hand_test(watched.pool, Quantity.STABILISER, found + 1.0, 5.0, "again"))
    assert watched.view.cya_mg_l < 0.5 * before
