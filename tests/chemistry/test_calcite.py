"""Calcite balance, against the 2330 form worked separately and PHREEQC (saturation_index.csv, 54 waters)."""

import pytest

from dosectl.chemistry import calcite
from tests.chemistry.reference_rows import numbers, rows


def test_index_agrees_with_the_worked_form_and_with_phreeqc() -> None:
    # 0.002 for three printed decimals; 0.05 against PHREEQC, which also counts CaHCO3+, CaCO3 and NaHCO3.
    for row in rows("saturation_index.csv"):
        temp_c, ph, ta, cya, ch, salt, worked, phreeqc, alk, ionic = numbers(
            row, "temp_c", "ph", "ta_mg_l", "cya_mg_l", "ch_mg_l", "nacl_g_kg", "lsi_2330", "si_phreeqc",
            "carbonate_alk_mg_l", "ionic_strength",
        )  # fmt: skip
        found = calcite.saturation_index(ph, ta, ch, cya_mg_l=cya, temp_c=temp_c, salt_g_l=salt)
        assert found == pytest.approx(worked, abs=2e-3)
        assert found == pytest.approx(phreeqc, abs=0.05)
        assert calcite.ionic_strength_of_water(salt, ch, ta) == pytest.approx(ionic, abs=5e-4)  # pairs bind a little
        assert calcite.carbonate_alkalinity_mg_l(ta, ph, cya, 0.0, temp_c, ionic) == pytest.approx(alk, abs=0.3)


def test_salt_lowers_the_index_by_the_published_size() -> None:
    # 0.5 to 3.2 g/kg lowers it by 0.16; the one-line form with TDS shows only 0.06.
    fresh, salt = (calcite.saturation_index(7.5, 100.0, 300.0, salt_g_l=s) for s in (0.5, 3.2))
    assert fresh - salt == pytest.approx(0.17, abs=0.015)


def test_warming_by_ten_kelvin_raises_it_by_the_published_size() -> None:
    cold, warm = (calcite.saturation_index(7.5, 100.0, 300.0, temp_c=t, salt_g_l=3.2) for t in (20.0, 30.0))
    assert 0.12 < warm - cold < 0.16


def test_ph_at_saturation_has_index_zero() -> None:
    ph = calcite.ph_at_saturation(0.0, 80.0, 300.0, cya_mg_l=40.0, temp_c=28.0, salt_g_l=3.5)
    assert calcite.saturation_index(ph, 80.0, 300.0, cya_mg_l=40.0, temp_c=28.0, salt_g_l=3.5) == pytest.approx(0.0, abs=1e-6)


def test_water_without_calcium_or_carbonate_has_no_index() -> None:
    with pytest.raises(ValueError, match="dissolves cement"):
        calcite.saturation_index(7.5, 80.0, 0.0)
    with pytest.raises(ValueError, match="carbonate alkalinity"):
        calcite.saturation_index(7.5, 20.0, 300.0, cya_mg_l=200.0)


def test_the_one_line_form_is_kept_only_to_be_compared_with() -> None:
    # 0.003: how dissolved solids were taken is not told beside the table. It parts from PHREEQC by up to 0.2.
    worst = 0.0
    for row in rows("saturation_index.csv"):
        temp_c, ph, ta, ch, salt, alk, simple, total, phreeqc = numbers(
            row,
            "temp_c",
            "ph",
            "ta_mg_l",
            "ch_mg_l",
            "nacl_g_kg",
            "carbonate_alk_mg_l",
            "lsi_simple",
            "lsi_simple_ta",
            "si_phreeqc",
        )
        found = calcite.saturation_index_one_line(ph, alk, ch, temp_c=temp_c, salt_g_l=salt)
        assert found == pytest.approx(simple, abs=3e-3)
        with_total = calcite.saturation_index_one_line(ph, ta, ch, temp_c=temp_c, salt_g_l=salt)
        assert with_total == pytest.approx(total, abs=3e-3)
        worst = max(worst, abs(found - phreeqc))
    assert 0.1 < worst < 0.25
