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
