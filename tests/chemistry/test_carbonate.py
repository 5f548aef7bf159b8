"""pH, alkalinity, acid and base, against PHREEQC tables (acid_demand.csv, base_demand.csv) and the published constants."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dosectl.chemistry import buffering, calcite, carbonate
from tests.chemistry.reference_rows import numbers, relative, rows

alkalinity = st.floats(40.0, 250.0)
cya = st.floats(0.0, 60.0)
ph = st.floats(6.8, 8.4)
salt = st.floats(0.0, 8.0)
temp = st.floats(5.0, 40.0)


def test_constants_are_those_of_plummer_and_busenberg() -> None:
    for row in rows("carbonate_constants.csv"):  # four decimals are printed, so 1e-4
        t = float(row["temp_c"]) + 273.15
        assert buffering.log_k1(t) == pytest.approx(float(row["logK1"]), abs=1e-4)
        assert buffering.log_k2(t) == pytest.approx(float(row["logK2"]), abs=1e-4)
        assert buffering.log_kh(t) == pytest.approx(float(row["logKH_co2"]), abs=1e-4)
        assert buffering.log_kw(t) == pytest.approx(float(row["logKw"]), abs=1e-4)
        assert calcite.log_ksp_calcite(t) == pytest.approx(float(row["logKsp_calcite"]), abs=1e-4)


def test_constants_have_their_textbook_values() -> None:
    # Plummer & Busenberg (1982), abstract, from memory: calcite -8.480 +- 0.02, K1 -6.352, K2 -10.329, KH -1.468 at 25 C. Water:
    # handbook values 13.995 at 25 C, 14.73 at 5 C. Printed digits, and 0.01 where handbooks part.
    t = 298.15
    assert buffering.log_k1(t) == pytest.approx(-6.352, abs=1e-3)
    assert buffering.log_k2(t) == pytest.approx(-10.329, abs=1e-3)
    assert buffering.log_kh(t) == pytest.approx(-1.468, abs=1e-3)
    assert calcite.log_ksp_calcite(t) == pytest.approx(-8.480, abs=2e-3)
    assert buffering.log_kw(t) == pytest.approx(-13.995, abs=0.01)
    assert buffering.log_kw(278.15) == pytest.approx(-14.73, abs=0.01)


def test_acid_is_within_two_percent_of_phreeqc() -> None:
    # The two differ in the activity coefficients of single ions (Davies here, a fitted form there).
    for row in rows("acid_demand.csv"):
        ta, stabiliser, boron, start, end, acid, dic = numbers(
            row, "ta_mg_l", "cya_mg_l", "borate_b_mg_l", "ph_from", "ph_to", "acid_meq_l_phreeqc", "dic_mmol_l"
        )
        found = carbonate.acid_demand_meq_l(ta, stabiliser, start, end, borate_b_mg_l=boron, salt_g_l=3.2)
        assert relative(found, acid) < 0.02
        ionic = carbonate.ionic_strength_from_salt(3.2)
        carbon = carbonate.total_alkalinity_to_dic(ta, start, stabiliser, boron, 25.0, ionic)
        assert relative(carbon, dic) < 0.01


def test_soda_ash_and_caustic_are_within_three_percent_of_phreeqc() -> None:
    for row in rows("base_demand.csv"):  # 3 %: doses of 0.03 mmol/L are printed with three digits
        ta, stabiliser, start, end = numbers(row, "ta_mg_l", "cya_mg_l", "ph_from", "ph_to")
        ash = carbonate.base_demand_mmol_l(ta, stabiliser, start, end, salt_g_l=3.2) * 105.99
        assert relative(ash, float(row["na2co3_g_m3"])) < 0.03
        caustic = carbonate.base_demand_mmol_l(ta, stabiliser, start, end, eq_per_mol=1.0, carbon_per_mol=0.0, salt_g_l=3.2)
        assert relative(caustic, float(row["naoh_mol_m3"])) < 0.03


def test_bicarbonate_raises_alkalinity_and_hardly_ph() -> None:
    for row in rows("base_demand.csv"):
        ta, stabiliser, start, expected = numbers(row, "ta_mg_l", "cya_mg_l", "ph_from", "ph_after_20ta_nahco3")
        found = carbonate.ph_after_change(
            ta, stabiliser, start, ta_change_mg_l=20.0, dic_change_mmol_l=33.57 / 84.007, salt_g_l=3.2
        )
        assert found == pytest.approx(expected, abs=0.005)


def test_more_stabiliser_at_equal_alkalinity_needs_more_acid() -> None:
    # TA 80, 7.8 to 7.5, 3.2 g/kg salt: 0.0490 without and 0.0668 meq/L with CYA 50, 36 % more.
    acid = [carbonate.acid_demand_meq_l(80.0, c, 7.8, 7.5, salt_g_l=3.2) for c in (0.0, 50.0)]
    assert acid[1] / acid[0] == pytest.approx(1.36, abs=0.02)


@pytest.mark.parametrize(
    ("at_ph", "cyanurate", "borate"),
    [(7.0, 0.220, 0.027), (7.2, 0.262, 0.042), (7.5, 0.313, 0.083), (7.8, 0.346, 0.162), (8.2, 0.370, 0.387)],
)
def test_alkalinity_of_cyanurate_and_borate_at_zero_salt(at_ph: float, cyanurate: float, borate: float) -> None:
    k = buffering.constants(25.0, 0.0)
    h = 10.0**-at_ph
    plain = buffering.other_alkalinity_eq_l(h, buffering.Buffers(), k)

    def held(other: buffering.Buffers) -> float:
        return (buffering.other_alkalinity_eq_l(h, other, k) - plain) * buffering.MG_CACO3_PER_EQ

    assert held(buffering.buffers(cya_mg_l=1.0)) == pytest.approx(cyanurate, abs=6e-4)
    assert held(buffering.buffers(borate_b_mg_l=1.0)) == pytest.approx(borate, abs=6e-4)


@given(alkalinity, cya, ph, salt, temp)
def test_ph_comes_back_from_alkalinity_and_carbon(
    ta: float, stabiliser: float, at_ph: float, salt_g_l: float, temp_c: float
) -> None:
    ionic = carbonate.ionic_strength_from_salt(salt_g_l)
    carbon = carbonate.total_alkalinity_to_dic(ta, at_ph, stabiliser, 0.0, temp_c, ionic)
    assert carbonate.ph_from_alkalinity(ta, carbon, stabiliser, 0.0, temp_c, ionic) == pytest.approx(at_ph, abs=1e-6)


@given(alkalinity, cya, ph, st.floats(0.05, 0.6), salt, temp)
def test_the_acid_asked_for_reaches_the_ph_asked_for(
    ta: float, stabiliser: float, start: float, fall: float, salt_g_l: float, temp_c: float
) -> None:
    acid = carbonate.acid_demand_meq_l(ta, stabiliser, start, start - fall, temp_c=temp_c, salt_g_l=salt_g_l)
    reached = carbonate.ph_after_acid(ta, stabiliser, start, acid * 50.0435, temp_c=temp_c, salt_g_l=salt_g_l)
    assert reached == pytest.approx(start - fall, abs=1e-6)


@given(alkalinity, cya, ph, st.floats(0.1, 20.0), st.floats(0.1, 20.0))
def test_two_acid_doses_are_one_dose_of_both(ta: float, stabiliser: float, at_ph: float, first: float, second: float) -> None:
    between = carbonate.ph_after_acid(ta, stabiliser, at_ph, first)
    in_two = carbonate.ph_after_acid(ta - first, stabiliser, between, second)
    assert in_two == pytest.approx(carbonate.ph_after_acid(ta, stabiliser, at_ph, first + second), abs=1e-6)
    assert in_two < between < at_ph


def test_a_small_pool_overdosed_with_acid_is_still_computed() -> None:
    # More acid than the alkalinity holds: the pH of free acid, -log10 of 0.4 meq/L is 3.4.
    assert carbonate.ph_after_acid(80.0, 30.0, 7.5, 100.0) == pytest.approx(3.4, abs=0.1)


def test_alkalinity_below_what_the_stabiliser_holds_is_refused() -> None:
    with pytest.raises(ValueError, match=r"test alkalinity and\s+stabiliser again"):
        carbonate.acid_demand_meq_l(20.0, 100.0, 7.8, 7.5)


def test_acid_does_not_raise_ph_and_base_does_not_lower_it() -> None:
    with pytest.raises(ValueError, match="acid can't raise it"):
        carbonate.acid_demand_meq_l(80.0, 30.0, 7.4, 7.5)
    with pytest.raises(ValueError, match="can't lower it"):
        carbonate.base_demand_mmol_l(80.0, 30.0, 7.6, 7.5)


def test_bicarbonate_is_refused_where_it_can_never_get() -> None:
    with pytest.raises(ValueError, match="too much carbonate"):
        carbonate.base_demand_mmol_l(80.0, 30.0, 7.6, 8.6, eq_per_mol=1.0, carbon_per_mol=1.0)


def test_measured_slope_of_the_cyanuric_constant_asks_for_more_acid_in_cold_water() -> None:
    fixed = carbonate.acid_demand_meq_l(60.0, 80.0, 7.8, 7.5, temp_c=8.0)
    measured = carbonate.acid_demand_meq_l(60.0, 80.0, 7.8, 7.5, temp_c=8.0, ring_temp_c=8.0)
    assert 1.1 < measured / fixed < 1.5


def test_standing_hypochlorite_raises_ph_and_gives_it_back() -> None:
    # Hypochlorite adds 0.706 mg/L of alkalinity a mg/L; once it has become chloride nothing is left of it.
    up = carbonate.ph_after_change(
        80.0, 40.0, 7.5, ta_change_mg_l=3 * 0.7058, free_chlorine_mg_l=2.0, free_chlorine_change_mg_l=3.0
    )
    back = carbonate.ph_after_change(
        80.0 + 3 * 0.7058, 40.0, up, ta_change_mg_l=-3 * 0.7058, free_chlorine_mg_l=5.0, free_chlorine_change_mg_l=-3.0
    )
    assert up > 7.5
    assert back == pytest.approx(7.5, abs=1e-6)
