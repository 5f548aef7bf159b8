"""What products do to the water, against exact stoichiometry (products.csv) and textbook doses."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dosectl.chemistry import products
from dosectl.chemistry.answers import dechlorination
from tests.chemistry.reference_rows import rows

KEYS = {
    "chlorine gas": "chlorine_gas",
    "electrolysis of pool salt": "electrolysis",
    "NaOCl (pure NaOCl)": "sodium_hypochlorite",
    "Ca(OCl)2 pure": "calcium_hypochlorite",
    "Ca(OCl)2 65 %": "calcium_hypochlorite",
    "Ca(OCl)2 73 %": "calcium_hypochlorite",
    "dichlor anhydrous NaCl2C3N3O3": "dichlor",
    "dichlor dihydrate": "dichlor_dihydrate",
    "trichlor Cl3C3N3O3": "trichlor",
}
keys = st.sampled_from([p.key for p in products.REGISTRY])


def test_side_effects_per_milligram_of_chlorine() -> None:
    for row in rows("products.csv"):  # four decimals are printed
        p = products.product(KEYS[row["product"]])
        e = p.per_g_chlorine()
        assert e.free_chlorine_mg_l == pytest.approx(1.0)
        assert e.cya_mg_l == pytest.approx(float(row["cya_mg_per_mg_fc"]), abs=2e-4)
        assert e.hardness_mg_l == pytest.approx(float(row["ch_mg_per_mg_fc"]), abs=2e-4)
        assert e.ta_instant_mg_l == pytest.approx(float(row["ta_instant_mg_per_mg_fc"]), abs=2e-4)
        assert e.ta_net_mg_l == pytest.approx(float(row["ta_net_mg_per_mg_fc"]), abs=2e-4)
        if row["chloride_as_nacl_mg_per_mg_fc"]:
            assert e.salt_mg_l == pytest.approx(float(row["chloride_as_nacl_mg_per_mg_fc"]), abs=2e-4)


def test_available_chlorine_of_pure_substances_and_mass_for_trade_strengths() -> None:
    for row in rows("products.csv"):
        if not row["available_cl2_percent"]:
            continue
        percent, grams = float(row["available_cl2_percent"]), float(row["g_product_per_g_fc"])
        found = products.addition(KEYS[row["product"]], grams, 1.0, available_percent=percent)
        assert found.free_chlorine_mg_l == pytest.approx(1.0, abs=2e-4)
        if "%" not in row["product"]:
            assert products.product(KEYS[row["product"]]).available_percent == pytest.approx(percent, abs=0.02)


@pytest.mark.parametrize(
    ("key", "grams", "quantity", "gain"),
    [
        ("bicarbonate", 16.8, "ta_net_mg_l", 10.0),
        ("soda_ash", 10.6, "ta_net_mg_l", 10.0),
        ("calcium_chloride", 11.1, "hardness_mg_l", 10.0),
        ("calcium_chloride_dihydrate", 14.7, "hardness_mg_l", 10.0),
        ("salt", 1000.0, "salt_mg_l", 1000.0),
        ("cyanuric_acid", 10.0, "cya_mg_l", 10.0),
        ("dry_acid", 120.06, "ta_net_mg_l", -50.04),
        ("hydrochloric_acid", 36.461, "ta_net_mg_l", -50.04),
    ],
)
def test_textbook_doses_per_cubic_metre(key: str, grams: float, quantity: str, gain: float) -> None:
    assert getattr(products.addition(key, grams, 1.0), quantity) == pytest.approx(gain, rel=0.003)


def test_dry_acid_leaves_sulfate() -> None:
    assert products.product("dry_acid").per_g.sulfate_mg_l == pytest.approx(0.80, abs=0.001)


@given(keys, keys, st.floats(1.0, 5000.0), st.floats(1.0, 5000.0), st.floats(1.0, 200.0))
def test_additions_commute_and_add_up(one: str, other: str, a: float, b: float, volume: float) -> None:
    first, second = products.addition(one, a, volume), products.addition(other, b, volume)
    assert first.plus(second) == second.plus(first)
    both = products.addition(one, a + b, volume)
    assert both.ta_net_mg_l == pytest.approx(
        products.addition(one, a, volume).plus(products.addition(one, b, volume)).ta_net_mg_l, abs=1e-9
    )


@given(keys, st.floats(1.0, 5000.0), st.floats(1.0, 200.0))
def test_twice_the_water_halves_the_effect(key: str, grams: float, volume: float) -> None:
    assert products.addition(key, grams, 2.0 * volume).salt_mg_l == pytest.approx(
        0.5 * products.addition(key, grams, volume).salt_mg_l
    )


def test_a_fraction_an_impossible_strength_and_an_unknown_product_are_refused() -> None:
    with pytest.raises(ValueError, match=r"available chlorine of calcium_hypochlorite = 0\.65"):
        products.addition("calcium_hypochlorite", 100.0, 50.0, available_percent=0.65)
    with pytest.raises(ValueError, match="the pure substance has no more"):
        products.addition("dichlor_dihydrate", 100.0, 50.0, available_percent=62.0)
    with pytest.raises(ValueError, match="accepted is one of sodium_hypochlorite"):
        products.addition("bleech", 100.0, 50.0)
    with pytest.raises(ValueError, match="it adds no chlorine"):
        products.addition("salt", 100.0, 50.0, available_percent=90.0)


@pytest.mark.parametrize(
    ("key", "least", "most"),
    [
        ("thiosulfate", 0.558, 4.46),
        ("thiosulfate_pentahydrate", 0.875, 7.00),
        ("sulfite", 1.78, 1.96),
        ("ascorbic_acid", 2.48, 2.6),
    ],
)
def test_neutraliser_for_one_milligram_in_one_cubic_metre(key: str, least: float, most: float) -> None:
    low, usual, high = dechlorination.neutraliser_g(key, 1.0, 1.0)
    assert (low, high) == pytest.approx((least, most))
    assert low <= usual <= high


@pytest.mark.parametrize(
    ("key", "moles_per_cl2", "g_mol"),
    [
        ("thiosulfate", 1 / 4, 158.11),
        ("sulfite", 1.0, 126.04),
        ("bisulfite", 1.0, 104.06),
        ("metabisulfite", 1 / 2, 190.11),
        ("peroxide", 1.0, 34.015),
        ("ascorbic_acid", 1.0, 176.12),
    ],
)
def test_least_neutraliser_is_the_stoichiometric_one(key: str, moles_per_cl2: float, g_mol: float) -> None:
    assert dechlorination.neutraliser(key).g_per_g_least == pytest.approx(moles_per_cl2 * g_mol / 70.906, rel=0.004)
