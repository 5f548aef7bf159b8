"""Free chlorine and its forms, against published constants and two separate solvers.

Tables: tests/reference/hocl_fraction.csv, cya_hocl.csv, cya_hocl_salt.csv, cya_temperature_estimate.csv.
"""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dosectl.chemistry import chlorine, cyanurate
from tests.chemistry.reference_rows import numbers, relative, rows

free = st.floats(0.01, 50.0)
cya = st.floats(0.0, 300.0)
ph = st.floats(6.0, 9.0)


def test_share_of_hocl_without_cyanurate_is_that_of_morris() -> None:
    for row in rows("hocl_fraction.csv"):  # four decimals are printed, so 1e-4
        temp_c, pka, at_ph, share = numbers(row, "temp_c", "pka", "ph", "hocl_fraction")
        assert chlorine.hocl_pka(temp_c) == pytest.approx(pka, abs=1e-4)
        assert chlorine.hocl_fraction(at_ph, temp_c) == pytest.approx(share, abs=1e-4)


def test_hocl_with_cyanurate_agrees_with_two_separate_solvers() -> None:
    # 5e-4: PHREEQC applies the activity of water (0.9998), the other solver sets it to 1.
    for row in rows("cya_hocl.csv"):
        fc, stabiliser, at_ph, scipy, phreeqc, ocl = numbers(
            row, "fc_mg_l", "cya_mg_l", "ph", "hocl_own_mg_l", "hocl_phreeqc_mg_l", "ocl_mg_l"
        )
        found = chlorine.hocl_mg_l(fc, stabiliser, at_ph)
        assert relative(found, scipy) < 1e-5
        assert relative(found, phreeqc) < 5e-4
        species = chlorine.speciate(fc, stabiliser, at_ph)
        assert species.hocl_mg_l == pytest.approx(found, rel=1e-9)
        assert relative(species.ocl_mg_l, ocl) < 1e-4


def test_salt_lowers_hocl_as_davies_and_phreeqc_say() -> None:
    # 4 % against PHREEQC: it gives neutral species log gamma = 0.1 I, the form used here gives them 0.
    for row in rows("cya_hocl_salt.csv"):
        fc, stabiliser, at_ph, ionic, davies, phreeqc = numbers(
            row, "fc_mg_l", "cya_mg_l", "ph", "ionic_strength", "hocl_own_davies_mg_l", "hocl_phreeqc_mg_l"
        )
        found = chlorine.speciate(fc, stabiliser, at_ph, ionic_strength=ionic).hocl_mg_l
        assert relative(found, davies) < 2e-4
        assert relative(found, phreeqc) < 0.04


def test_the_worked_example_puts_98_percent_on_the_ring() -> None:
    # 3 mg/L, CYA 50, pH 7.5: HClCy- 2.862 and H2ClCy 0.019, Cl2Cy- 0.064, HOCl 0.0246, OCl- 0.0224 mg/L as Cl2.
    s = chlorine.speciate(3.0, 50.0, 7.5)
    assert s.hocl_mg_l == pytest.approx(0.0246, abs=5e-5)
    assert s.ocl_mg_l == pytest.approx(0.0224, abs=5e-5)
    assert s.bound_two_mg_l == pytest.approx(0.064, abs=5e-4)
    assert s.bound_one_mg_l == pytest.approx(2.862 + 0.019, abs=0.01)
    assert 0.98 < s.bound_mg_l / 3.0 < 0.99


def test_derived_constants_agree_with_the_steps_they_come_from() -> None:
    # Published as 5.62, 4.07 and 2.93; two ways round the cycle must meet.
    assert pytest.approx(5.62, abs=1e-9) == cyanurate.PK_HCLCY_HYDROLYSIS
    assert pytest.approx(4.07, abs=1e-9) == cyanurate.PK_H2CLCY + cyanurate.PK_HCLCY_HYDROLYSIS - cyanurate.PK_H3CY
    assert pytest.approx(2.93, abs=1e-9) == cyanurate.PK_HCL2CY + cyanurate.PK_CL2CY - cyanurate.PK_H2CLCY


@given(free, cya, ph)
def test_chlorine_is_neither_made_nor_lost_among_its_forms(fc: float, stabiliser: float, at_ph: float) -> None:
    s = chlorine.speciate(fc, stabiliser, at_ph)
    assert s.hocl_mg_l + s.ocl_mg_l + s.bound_mg_l == pytest.approx(fc, rel=1e-9)
    assert s.bound_one_mg_l + s.bound_two_mg_l + s.bound_three_mg_l == pytest.approx(s.bound_mg_l, rel=1e-9)
    assert 0.0 <= s.hocl_mg_l <= fc


@given(free, cya, ph, st.floats(1.01, 3.0))
def test_hocl_rises_with_chlorine_and_falls_with_stabiliser_and_ph(
    fc: float, stabiliser: float, at_ph: float, factor: float
) -> None:
    here = chlorine.hocl_mg_l(fc, stabiliser, at_ph)
    assert chlorine.hocl_mg_l(fc * factor, stabiliser, at_ph) > here
    assert chlorine.hocl_mg_l(fc, stabiliser + factor, at_ph) < here
    assert chlorine.hocl_mg_l(fc, stabiliser, at_ph + 0.1 * factor) < here


@given(free, cya, ph)
def test_free_chlorine_for_hocl_undoes_hocl(fc: float, stabiliser: float, at_ph: float) -> None:
    back = chlorine.free_chlorine_for_hocl(chlorine.hocl_mg_l(fc, stabiliser, at_ph), stabiliser, at_ph)
    assert back == pytest.approx(fc, rel=1e-9)


@given(st.floats(0.0, 200.0), st.floats(0.0, 1000.0), st.floats(0.0, 14.0))
def test_every_accepted_water_is_solved(fc: float, stabiliser: float, at_ph: float) -> None:
    found = chlorine.hocl_mg_l(fc, stabiliser, at_ph)
    assert math.isfinite(found)
    assert chlorine.free_chlorine_for_hocl(found, stabiliser, at_ph) == pytest.approx(fc, rel=1e-6, abs=1e-12)


def test_no_stabiliser_is_the_end_of_little_stabiliser() -> None:
    assert chlorine.hocl_mg_l(2.0, 1e-9, 7.5) == pytest.approx(chlorine.hocl_mg_l(2.0, 0.0, 7.5), rel=1e-6)
    warm = [chlorine.speciate(2.0, c, 7.5, temp_c=35.0).hocl_mg_l for c in (1e-9, 0.0)]
    assert warm[0] == pytest.approx(warm[1], rel=1e-6)


def test_with_stabiliser_hocl_hardly_depends_on_ph() -> None:
    # FC 4, CYA 50, against pH 7.5: 1.39 (7.0) and 0.86 (8.0); without CYA 1.48 and 0.49.
    def against_7_5(stabiliser: float, at_ph: float) -> float:
        return chlorine.hocl_mg_l(4.0, stabiliser, at_ph) / chlorine.hocl_mg_l(4.0, stabiliser, 7.5)

    assert against_7_5(50.0, 7.0) == pytest.approx(1.39, abs=0.006)
    assert against_7_5(50.0, 8.0) == pytest.approx(0.86, abs=0.006)
    assert against_7_5(0.0, 7.0) == pytest.approx(1.48, abs=0.006)
    assert against_7_5(0.0, 8.0) == pytest.approx(0.49, abs=0.006)


def test_ring_constants_away_from_25_c_are_told_as_unknown() -> None:
    assert chlorine.speciate(3.0, 50.0, 7.5, temp_c=25.0).temperature_known
    assert not chlorine.speciate(3.0, 50.0, 7.5, temp_c=15.0).temperature_known
    assert chlorine.speciate(3.0, 0.0, 7.5, temp_c=15.0).temperature_known


def test_estimated_effect_of_temperature_has_the_tabulated_size() -> None:
    # An estimate is checked for size only: 2 % of the table made with the same assumptions by a separate solver.
    for row in rows("cya_temperature_estimate.csv"):
        temp_c, fc, stabiliser, at_ph = numbers(row, "temp_c", "fc_mg_l", "cya_mg_l", "ph")
        for enthalpy in (30, 39, 45):
            expected = float(row[f"hocl_dh{enthalpy}"])
            found = chlorine.hocl_estimate_at_temperature_mg_l(
                fc, stabiliser, at_ph, temp_c, ring_enthalpy_kj_mol=float(enthalpy)
            )
            assert found == pytest.approx(expected, rel=0.02, abs=1e-4)


def test_doubt_from_temperature_holds_the_estimates() -> None:
    low, high = chlorine.temperature_doubt(3.0, 50.0, 7.5, 15.0)
    assert low < 0.65 < high < 1.0  # x0.65 at 15 C and x1.54 at 35 C with 39 kJ/mol
    low, high = chlorine.temperature_doubt(3.0, 50.0, 7.5, 35.0)
    assert 1.0 < low < 1.54 < high
    assert chlorine.temperature_doubt(3.0, 50.0, 7.5, 25.0) == pytest.approx((1.0, 1.0))


@pytest.mark.parametrize(("stabiliser", "limit"), [(0.0, 5.0), (12.5, 5.0), (20.0, 8.0), (25.0, 10.0), (100.0, 10.0)])
def test_upper_limit_follows_the_stabiliser_up_to_ten(stabiliser: float, limit: float) -> None:
    assert chlorine.upper_free_chlorine_limit_mg_l(stabiliser) == pytest.approx(limit)


@given(free, st.floats(5.0, 200.0), ph)
def test_slope_of_hocl_is_at_least_that_of_chlorine(fc: float, stabiliser: float, at_ph: float) -> None:
    # The ring saturates, so HOCl rises at least in proportion; without stabiliser exactly in proportion.
    assert chlorine.log10_hocl_slope(fc, stabiliser, at_ph) > 1.0 - 1e-6
    assert chlorine.log10_hocl_slope(fc, 0.0, at_ph) == pytest.approx(1.0, abs=1e-6)
