"""What electrodes read, against orp_theory.csv, ph_buffers.csv and redox_standards.csv."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dosectl.chemistry import electrodes
from dosectl.chemistry.reference_solutions import Buffer, RedoxSolution, Reference, buffer_ph, redox_standard_mv
from tests.chemistry.reference_rows import numbers, rows

COLUMNS = {
    "phthalate_0.05m": Buffer.PHTHALATE,
    "phosphate_1:1_0.025m": Buffer.PHOSPHATE,
    "phosphate_1:3.5": Buffer.PHOSPHATE_BLOOD,
    "borax_0.01m": Buffer.BORAX,
    "carbonate_0.025m": Buffer.CARBONATE,
    "technical_4.00": Buffer.TECHNICAL_4,
    "technical_7.00": Buffer.TECHNICAL_7,
    "technical_10.01": Buffer.TECHNICAL_10,
}


@pytest.mark.parametrize(
    ("temp_c", "slope"), [(10, 56.18), (15, 57.18), (20, 58.17), (25, 59.16), (30, 60.15), (35, 61.14), (40, 62.14)]
)
def test_ideal_ph_slope_by_temperature(temp_c: float, slope: float) -> None:
    assert electrodes.nernst_slope_mv(temp_c) == pytest.approx(slope, abs=0.006)


def test_theory_of_the_redox_potential() -> None:
    for row in rows("orp_theory.csv"):  # one decimal is printed
        temp_c, ph, salt, hocl, she = numbers(row, "temp_c", "ph", "nacl_g_l", "hocl_mg_l", "mv_she")
        assert electrodes.orp_theory_mv(hocl, ph, salt, temp_c) == pytest.approx(she, abs=0.1)


def test_the_fitted_form_has_the_theory_as_a_special_case() -> None:
    for row in rows("orp_theory.csv"):
        temp_c, ph, salt, hocl, she = numbers(row, "temp_c", "ph", "nacl_g_l", "hocl_mg_l", "mv_she")
        e0 = electrodes.orp_theory_mv(1.0, 7.5, salt, temp_c)
        found = electrodes.orp_mv(hocl, ph, e0_mv=e0, slope_mv_decade=29.58, temp_c=temp_c)
        assert found == pytest.approx(she, abs=0.15)


def test_doubling_hocl_is_nine_millivolts_and_a_twenty_millivolt_offset_a_factor_of_nearly_five() -> None:
    def reading(hocl: float) -> float:
        return electrodes.orp_mv(hocl, 7.5, e0_mv=750.0, slope_mv_decade=29.58)

    assert reading(0.04) - reading(0.02) == pytest.approx(8.9, abs=0.05)
    back = electrodes.hocl_from_orp_mv(reading(0.02) + 20.0, 7.5, e0_mv=750.0, slope_mv_decade=29.58)
    assert back / 0.02 == pytest.approx(4.7, abs=0.05)


@given(st.floats(0.001, 5.0), st.floats(6.5, 8.5), st.floats(600.0, 900.0), st.floats(20.0, 120.0), st.floats(5.0, 40.0))
def test_hocl_comes_back_from_its_reading(hocl: float, ph: float, e0: float, slope: float, temp_c: float) -> None:
    orp = electrodes.orp_mv(hocl, ph, e0_mv=e0, slope_mv_decade=slope, temp_c=temp_c)
    back = electrodes.hocl_from_orp_mv(orp, ph, e0_mv=e0, slope_mv_decade=slope, temp_c=temp_c)
    assert back == pytest.approx(hocl, rel=1e-9)


def test_water_without_chlorine_has_a_finite_reading() -> None:
    without, little = (electrodes.orp_mv(h, 7.5, e0_mv=750.0, slope_mv_decade=50.0) for h in (0.0, 1e-3))
    assert 400.0 < without < little


def test_buffers_by_temperature() -> None:
    for row in rows("ph_buffers.csv"):
        for column, buffer in COLUMNS.items():
            assert buffer_ph(buffer, float(row["temp_c"])) == pytest.approx(float(row[column]), abs=1e-9)


def test_phthalate_agrees_with_a_second_publication() -> None:
    for row in rows("ph_buffers.csv"):  # Hetzer et al. (1977) and the NIST table part by up to 0.01 at the ends
        temp_c, hetzer = numbers(row, "temp_c", "phthalate_hetzer_1977")
        assert buffer_ph(Buffer.PHTHALATE, temp_c) == pytest.approx(hetzer, abs=0.02)


def test_between_two_tabulated_temperatures_lies_between_their_values() -> None:
    assert 6.881 > buffer_ph(Buffer.PHOSPHATE, 22.0) > 6.865


def test_redox_check_solutions() -> None:
    columns = {
        "zobell_sat": (RedoxSolution.ZOBELL, Reference.AG_AGCL_SATURATED),
        "zobell_k3": (RedoxSolution.ZOBELL, Reference.AG_AGCL_3M),
        "quinhydrone_ph4_sat": (RedoxSolution.QUINHYDRONE_PH_4, Reference.AG_AGCL_SATURATED),
        "quinhydrone_ph686_sat": (RedoxSolution.QUINHYDRONE_PH_686, Reference.AG_AGCL_SATURATED),
    }
    for row in rows("redox_standards.csv"):
        for column, (solution, reference) in columns.items():
            found = redox_standard_mv(solution, reference, float(row["temp_c"]))
            assert found == pytest.approx(float(row[column]), abs=1.0)
        polynomial = redox_standard_mv(RedoxSolution.ZOBELL, Reference.HYDROGEN, float(row["temp_c"]))
        assert polynomial == pytest.approx(float(row["zobell_she_2"]), abs=8.0)  # Nordstrom (1977): other values, both kept


def test_light_solution_reads_476_or_468_by_the_reference() -> None:
    assert redox_standard_mv(RedoxSolution.LIGHT, Reference.AG_AGCL_SATURATED) == pytest.approx(476.0)
    assert redox_standard_mv(RedoxSolution.LIGHT, Reference.AG_AGCL_3M) == pytest.approx(468.0)
    with pytest.raises(ValueError, match="23 to 27"):
        redox_standard_mv(RedoxSolution.LIGHT, Reference.AG_AGCL_3M, 15.0)


def test_ten_times_the_chloride_lowers_the_reading_by_half_a_nernst_slope() -> None:
    plain, salty = (electrodes.orp_mv(0.02, 7.5, e0_mv=750.0, slope_mv_decade=50.0, chloride_ratio=r) for r in (1.0, 10.0))
    assert plain - salty == pytest.approx(29.58, abs=0.01)
    back = electrodes.hocl_from_orp_mv(salty, 7.5, e0_mv=750.0, slope_mv_decade=50.0, chloride_ratio=10.0)
    assert back == pytest.approx(0.02)
