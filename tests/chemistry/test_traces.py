"""Chlorine that has all but gone: a pool left for a winter decays through every size of number."""

import pytest

from dosectl.chemistry.chlorine import hocl_mg_l


@pytest.mark.parametrize("free_mg_l", [10.0**-power for power in range(2, 320, 3)] + [5e-324])
def test_a_trace_of_chlorine_has_a_trace_of_hypochlorous_acid_in_the_same_proportion(free_mg_l: float) -> None:
    expected = hocl_mg_l(1e-3, 50.0, 7.5) / 1e-3
    found = hocl_mg_l(free_mg_l, 50.0, 7.5)
    if free_mg_l > 1e-300:
        assert found / free_mg_l == pytest.approx(expected, rel=0.03)
    else:
        assert 0.0 <= found <= free_mg_l
