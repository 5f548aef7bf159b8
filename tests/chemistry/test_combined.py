"""Combined chlorine and the reach of tests."""

import pytest

from dosectl.chemistry.answers import assays
from dosectl.chemistry.answers.assays import Method, Quantity
from dosectl.chemistry.changes import combined
from dosectl.chemistry.changes.combined import Combined


def test_breakpoint_of_ammonia() -> None:
    theory, low, high = combined.ammonia_breakpoint_mg_l(1.0)
    assert theory == pytest.approx(7.6, abs=0.01)
    assert (low, high) == (10.0, 15.0)


def test_monochloramine_takes_half_its_chlorine_not_ten_times_it() -> None:
    assert combined.chloramine_demand_mg_l(0.8) == pytest.approx(0.4)


def test_combined_is_total_less_free() -> None:
    assert combined.combined_chlorine_mg_l(2.5, 2.0) == pytest.approx(0.5)
    assert combined.combined_chlorine_mg_l(2.0, 2.1) == 0.0  # within the error of two tests
    with pytest.raises(ValueError, match="free first"):
        combined.combined_chlorine_mg_l(2.0, 3.0)


@pytest.mark.parametrize(
    ("value", "meaning"),
    [(0.1, Combined.UNCERTAIN), (0.3, Combined.LOW), (0.6, Combined.RAISED), (1.5, Combined.HIGH)],
)
def test_bands(value: float, meaning: Combined) -> None:
    assert combined.judge(value) is meaning


def test_half_is_left_after_its_half_life() -> None:
    assert combined.after_decay_mg_l(0.8, 6.0, 6.0) == pytest.approx(0.4)


def test_readings_outside_a_method_are_doubted_with_the_reason() -> None:
    bleached = assays.doubt(Quantity.FREE_CHLORINE, Method.COLOUR, 8.0)
    assert bleached is not None
    assert "bleaches" in bleached
    assert assays.doubt(Quantity.CYANURIC_ACID, Method.TURBIDITY, 20.0) is not None
    assert assays.doubt(Quantity.CYANURIC_ACID, Method.TURBIDITY, 50.0) is None


def test_a_method_that_can_not_test_it_is_refused() -> None:
    with pytest.raises(ValueError, match="accepted is one of turbidity tube, photometer, test strip"):
        assays.reach(Quantity.CYANURIC_ACID, Method.DROPS)
