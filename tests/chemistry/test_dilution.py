"""Rain, replacement and evaporation."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dosectl.chemistry.changes import dilution


def test_fifty_millimetres_of_rain_on_a_metre_and_a_half() -> None:
    assert dilution.rain_share(50.0, 1.5) == pytest.approx(0.967, abs=5e-4)
    assert dilution.rain_share(50.0, 1.5, overflow=False) == pytest.approx(1.5 / 1.55, abs=1e-9)


@pytest.mark.parametrize(("water_c", "air_c", "humidity", "wind", "mm_day"), [(28, 25, 0.5, 1.0, 9.6), (28, 20, 0.6, 0.0, 5.5)])
def test_evaporation_of_the_worked_cases(water_c: float, air_c: float, humidity: float, wind: float, mm_day: float) -> None:
    assert dilution.evaporation_mm_day(water_c, air_c, humidity, wind) == pytest.approx(mm_day, abs=0.06)


def test_vapour_pressure_of_water() -> None:
    assert dilution.saturation_pressure_kpa(25.0) == pytest.approx(3.160, abs=0.003)
    assert dilution.saturation_pressure_kpa(28.0) == pytest.approx(3.771, abs=0.003)


def test_no_evaporation_into_air_that_is_wetter_than_the_water() -> None:
    assert dilution.evaporation_mm_day(10.0, 35.0, 1.0, 3.0) == 0.0


@given(st.floats(50.0, 300.0), st.floats(0.05, 0.95), st.floats(5.0, 200.0), st.floats(0.0, 20.0), st.booleans())
def test_the_water_asked_for_brings_the_target(c: float, share: float, volume: float, fill: float, overflow: bool) -> None:
    target = fill + share * (c - fill)
    water = dilution.water_to_replace_m3(c, target, volume, fill, overflow=overflow)
    back = dilution.after_inflow_mg_l(c, water, volume, fill) if overflow else dilution.after_refill_mg_l(c, water, volume, fill)
    assert back == pytest.approx(target, rel=1e-9)


def test_draining_first_takes_less_water_than_an_overflow() -> None:
    assert dilution.water_to_replace_m3(120.0, 60.0, 50.0) == pytest.approx(25.0)
    assert dilution.water_to_replace_m3(120.0, 60.0, 50.0, overflow=True) == pytest.approx(34.66, abs=0.01)


def test_fill_water_that_holds_more_than_the_target_is_refused() -> None:
    with pytest.raises(ValueError, match="between pool and fill water"):
        dilution.water_to_replace_m3(400.0, 150.0, 50.0, 200.0)


def test_evaporation_and_hard_fill_water_raise_hardness() -> None:
    assert dilution.after_evaporation_mg_l(250.0, 10.0, 50.0, 200.0) == pytest.approx(290.0)
