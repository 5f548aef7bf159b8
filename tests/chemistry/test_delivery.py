"""Feeders: mass from level and time, by definition and by Faraday's law."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dosectl.chemistry import delivery
from dosectl.chemistry.delivery import cell

level = st.floats(0.0, 1.0)


def test_ten_seconds_of_a_pump() -> None:
    # 10 s at 50 mL/min of 125 g/L are 8.333 mL and 1.042 g.
    assert delivery.mass_fed_g(10.0, 50.0, 125.0) == pytest.approx(1.042, abs=5e-4)
    assert 10.0 * delivery.pump_rate_g_s(50.0, 125.0, 1.0) == pytest.approx(1.0417, abs=5e-4)


def test_a_twenty_gram_cell_at_half_duty_for_eight_hours_makes_eighty() -> None:
    fed_g = delivery.chlorinator_rate_g_s(20.0, 0.5) * 8 * 3600
    assert fed_g == pytest.approx(80.0)
    assert fed_g / 50.0 == pytest.approx(1.6)  # mg/L in 50 m3


def test_a_minute_of_acid_takes_its_equivalents() -> None:
    # 60 mL/min of 10 meq/mL are 10 meq/s; 1 meq takes 0.0500 g of alkalinity.
    assert delivery.acid_rate_g_s(60.0, 10.0, 1.0) == pytest.approx(0.5004, abs=1e-4)


def test_faraday_sets_the_most_that_a_current_makes() -> None:
    assert delivery.faraday_rate_g_h(1.0) == pytest.approx(1.3228, abs=1e-4)
    assert delivery.faraday_rate_g_h(4.0, gaps_in_series=5, efficiency=0.8) == pytest.approx(21.16, abs=0.01)
    assert cell.hydrogen_l_h(20.0) == pytest.approx(6.8, abs=0.03)


@given(level, st.floats(0.0, 200.0), st.floats(0.0, 170.0))
def test_a_metered_feeder_feeds_in_proportion(share: float, rate: float, strength: float) -> None:
    full = delivery.pump_rate_g_s(rate, strength, 1.0)
    assert delivery.pump_rate_g_s(rate, strength, share) == pytest.approx(share * full, abs=1e-12)
    assert delivery.chlorinator_rate_g_s(20.0, share) == pytest.approx(share * 20.0 / 3600.0)
    assert delivery.acid_rate_g_s(rate, 10.0, share) == pytest.approx(share * delivery.acid_rate_g_s(rate, 10.0, 1.0))


def test_cold_water_stops_a_cell() -> None:
    assert cell.temperature_factor(25.0) == 1.0
    assert cell.temperature_factor(12.5) == pytest.approx(0.5)
    assert cell.temperature_factor(8.0) == 0.0


def test_a_percentage_for_a_level_is_refused() -> None:
    with pytest.raises(ValueError, match=r"level = 50\.0: accepted is 0 to 1; give a share of full output, not percent"):
        delivery.chlorinator_rate_g_s(20.0, 50.0)
