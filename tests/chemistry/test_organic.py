"""Organic load and algae: the forms, since no published rates exist to hold the sizes against."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dosectl.chemistry import chlorine
from dosectl.chemistry.changes import organic

level = st.floats(0.0, 30.0)
hours = st.floats(0.0, 48.0)


@given(level, level, hours, st.floats(5.0, 38.0))
def test_chlorine_and_load_lose_the_same(free: float, load: float, time_h: float, temp_c: float) -> None:
    left, remaining = organic.reacted(free, load, time_h, temp_c=temp_c)
    assert free - left == pytest.approx(load - remaining, abs=1e-9)
    assert -1e-9 <= left <= free
    assert -1e-9 <= remaining <= load


@given(st.floats(0.1, 20.0), st.floats(0.1, 20.0), st.floats(0.1, 5.0))
def test_two_halves_of_the_time_are_the_whole(free: float, load: float, time_h: float) -> None:
    whole = organic.reacted(free, load, time_h)
    half = organic.reacted(free, load, time_h / 2.0)
    assert organic.reacted(max(0.0, half[0]), max(0.0, half[1]), time_h / 2.0) == pytest.approx(whole, abs=1e-6)


def test_equal_amounts_follow_the_textbook() -> None:
    # Second order with equal amounts: c = c0 / (1 + k c0 t); nearly equal amounts come to the same.
    assert organic.reacted(4.0, 4.0, 2.0, rate_l_mg_h=0.5)[0] == pytest.approx(4.0 / 5.0)
    assert organic.reacted(4.0, 4.0 + 1e-6, 2.0, rate_l_mg_h=0.5)[0] == pytest.approx(4.0 / 5.0, abs=1e-5)


def test_the_smaller_is_used_up_and_the_larger_keeps_the_rest() -> None:
    assert organic.reacted(organic.shock_mg_l(6.0, 2.0), 6.0, 48.0) == pytest.approx((2.0, 0.0), abs=1e-6)
    assert organic.reacted(2.0, 6.0, 48.0) == pytest.approx((0.0, 4.0), abs=1e-6)


def test_warm_water_is_faster() -> None:
    assert organic.reacted(4.0, 3.0, 1.0, temp_c=30.0)[0] < organic.reacted(4.0, 3.0, 1.0, temp_c=20.0)[0]


def test_loss_in_the_dark() -> None:
    assert organic.overnight_load_mg_l_h(4.0, 3.2, 8.0) == pytest.approx(0.1)


def test_stabiliser_lets_algae_grow_at_a_chlorine_that_would_do_elsewhere() -> None:
    held, grown = (organic.algae_growth_per_day(chlorine.hocl_mg_l(1.0, cya, 7.5), 27.0, 0.5) for cya in (20.0, 150.0))
    assert held < 0.0 < grown


def test_algae_grow_faster_in_warmth_and_light_and_never_in_the_dark() -> None:
    assert organic.algae_growth_per_day(0.0, 30.0, 0.5) > organic.algae_growth_per_day(0.0, 20.0, 0.5) > 0.0
    assert organic.algae_growth_per_day(0.0, 30.0, 0.0) == 0.0
