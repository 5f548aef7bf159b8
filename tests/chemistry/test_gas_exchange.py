"""Carbon dioxide and air, against PHREEQC (co2_equilibrium.csv, 420 ppm, 3.2 g/kg salt)."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dosectl.chemistry import buffering, carbonate, gas_exchange
from tests.chemistry.reference_rows import numbers, rows


def test_ph_in_balance_with_air_is_within_0_02_of_phreeqc() -> None:
    for row in rows("co2_equilibrium.csv"):
        temp_c, ta, cya, expected = numbers(row, "temp_c", "ta_mg_l", "cya_mg_l", "ph_at_air_equilibrium")
        found = gas_exchange.ph_at_air_equilibrium(ta, cya, temp_c=temp_c, salt_g_l=3.2, co2_atm=10**-3.377)
        assert found == pytest.approx(expected, abs=0.02)


def test_co2_pressure_of_pool_water_is_within_0_02_decades_of_phreeqc() -> None:
    for row in rows("co2_equilibrium.csv"):
        temp_c, ta, cya = numbers(row, "temp_c", "ta_mg_l", "cya_mg_l")
        for ph, column in ((7.5, "log_pco2_at_7_5"), (7.8, "log_pco2_at_7_8")):
            found = gas_exchange.co2_pressure_atm(ta, cya, ph, temp_c=temp_c, salt_g_l=3.2)
            assert math.log10(found) == pytest.approx(float(row[column]), abs=0.02)


def test_outgassing_raises_ph_towards_that_of_air_and_no_further() -> None:
    ionic = carbonate.ionic_strength_from_salt(3.2)
    dic = carbonate.total_alkalinity_to_dic(100.0, 7.4, 30.0, ionic_strength=ionic)
    end = gas_exchange.ph_at_air_equilibrium(100.0, 30.0, salt_g_l=3.2)
    ph = 7.4
    for _ in range(4000):
        step_s = 3600.0
        dic -= gas_exchange.outgassing_mmol_l_s(ph, dic, 1.5, kl_cm_h=5.0, ionic_strength=ionic) * step_s
        new = carbonate.ph_from_alkalinity(100.0, dic, 30.0, ionic_strength=ionic)
        assert ph - 1e-9 <= new <= end + 1e-6
        ph = new
    assert ph == pytest.approx(end, abs=0.01)


@given(st.floats(60.0, 150.0), st.floats(60.0, 150.0))
def test_lower_alkalinity_drifts_more_slowly(one: float, other: float) -> None:
    low, high = sorted((one, other))

    def rate(ta: float) -> float:
        return gas_exchange.outgassing_mmol_l_s(7.5, carbonate.total_alkalinity_to_dic(ta, 7.5), 1.5)

    assert rate(low) <= rate(high)


def test_deep_or_sheltered_water_changes_more_slowly() -> None:
    shallow, deep = (gas_exchange.outgassing_mmol_l_s(7.4, 2.0, d) for d in (1.0, 2.0))
    assert shallow == pytest.approx(2.0 * deep)
    assert gas_exchange.transfer_velocity_cm_h(5.0) > gas_exchange.transfer_velocity_cm_h(0.0) > 0.0


def test_rate_is_transfer_velocity_times_excess_by_depth() -> None:
    # By definition: 3.6 cm/h are 1e-5 m/s; on 2 m of depth the excess goes at 5e-6 of itself a second.
    k = buffering.constants(25.0, 0.06)
    excess = 1000.0 * (gas_exchange.co2_mol_l(7.5, 0.002, k) - k.kh * gas_exchange.AIR_CO2_ATM)
    found = gas_exchange.outgassing_mmol_l_s(7.5, 2.0, 2.0, kl_cm_h=3.6, ionic_strength=0.06)
    assert found == pytest.approx(5e-6 * excess)
    assert excess > 0.0
