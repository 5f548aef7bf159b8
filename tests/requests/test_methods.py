"""How exact a test by hand is: by common practice strips are worse than drops, and a difference carries two errors."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dosectl.core.requests.methods import sigma_of
from dosectl.model.water_tests import Quantity

BOTH = [Quantity.FREE_CHLORINE, Quantity.PH, Quantity.ALKALINITY, Quantity.HARDNESS, Quantity.SALT]


@given(st.sampled_from(BOTH), st.floats(0.0, 200.0))
def test_strips_are_never_better_than_drops(quantity: Quantity, value: float) -> None:
    strips, drops = sigma_of(quantity, "strips", value), sigma_of(quantity, "drops", value)
    assert strips is not None
    assert drops is not None
    assert strips > drops


def test_combined_carries_the_errors_of_two_tests() -> None:
    free, combined = sigma_of(Quantity.FREE_CHLORINE, "drops", 0.3), sigma_of(Quantity.COMBINED_CHLORINE, "drops", 0.3)
    assert free is not None
    assert combined == pytest.approx(free * 2**0.5, rel=0.02)


def test_a_method_that_cannot_test_it_has_no_error_to_tell() -> None:
    assert sigma_of(Quantity.STABILISER, "drops", 50.0) is None
