"""The trim: the same as an object that is kept, but pure."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from simple_pid import PID

from dosectl.core.control.regulators import trim

KP, KI = 0.2, 0.05
LIMITS = (-0.3, 0.4)
DT_H = 1.0 / 60.0
MOST = 0.4


def call(value: float, integral: float, *, frozen: bool = False, dt_h: float = DT_H) -> tuple[float, float]:
    return trim(
        value, 3.0, per_h=KP, integral_per_h2=KI, integral=integral, limits=LIMITS, integral_most=MOST, dt_h=dt_h, frozen=frozen
    )


@given(st.lists(st.floats(min_value=0.0, max_value=20.0), min_size=1, max_size=60))
def test_rebuilt_each_time_it_equals_one_object_that_is_kept(values: list[float]) -> None:
    kept = PID(KP, KI, 0.0, setpoint=3.0, sample_time=None, output_limits=LIMITS)
    integral = 0.0
    for value in values:
        output, integral = call(value, integral)
        assert output == kept(value, dt=DT_H)
        assert integral == kept.components[1]


@pytest.mark.parametrize("bad", [math.nan, math.inf, -math.inf])
def test_what_is_no_number_never_reaches_it(bad: float) -> None:
    _, integral = call(2.0, 0.1)
    output, after = call(bad, integral)
    assert after == integral
    assert math.isfinite(output)
    assert call(2.0, after) == call(2.0, integral)


def test_frozen_it_keeps_its_integral_and_still_answers() -> None:
    output, integral = call(1.0, 0.1, frozen=True)
    assert integral == 0.1
    assert output == pytest.approx(min(LIMITS[1], 0.1 + KP * 2.0))


def test_saturated_for_hours_it_comes_back_at_once() -> None:
    integral = 0.0
    for _ in range(6000):
        _, integral = call(0.0, integral)
    assert integral <= LIMITS[1]
    assert call(6.0, integral)[0] < 0.0


def test_no_time_passed_is_no_step() -> None:
    assert call(1.0, 0.1, dt_h=0.0) == (0.1, 0.1)


def test_it_never_takes_on_more_than_its_share() -> None:
    integral = 0.0
    for _ in range(600):
        output, integral = trim(
            1.0,
            3.0,
            per_h=KP,
            integral_per_h2=KI,
            integral=integral,
            limits=(-1.0, 1.0),
            integral_most=0.1,
            dt_h=DT_H,
            frozen=False,
        )
    assert integral == pytest.approx(0.1)
    assert output == pytest.approx(0.5, abs=0.01)
    assert trim(
        3.0, 3.0, per_h=KP, integral_per_h2=KI, integral=9.0, limits=(-1.0, 1.0), integral_most=0.1, dt_h=DT_H, frozen=True
    ) == (pytest.approx(0.1), pytest.approx(0.1))
