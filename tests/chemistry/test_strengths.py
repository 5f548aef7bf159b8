"""Words of strength: White's definitions worked through, and refusals of what is ambiguous."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dosectl.chemistry import strengths
from dosectl.chemistry.strengths import StrengthWord


@pytest.mark.parametrize(
    ("value", "word", "density", "trade"),
    [
        (10.0, StrengthWord.TRADE_PERCENT, None, 10.0),
        (12.5, StrengthWord.TRADE_PERCENT, None, 12.5),
        (125.0, StrengthWord.GRAMS_PER_LITRE, None, 12.5),
        (8.77, StrengthWord.AVAILABLE_PERCENT, 1.14, 10.0),
        (10.68, StrengthWord.AVAILABLE_PERCENT, 1.17, 12.5),
        (6.0, StrengthWord.NAOCL_PERCENT, 1.085, 6.20),
        (8.25, StrengthWord.NAOCL_PERCENT, 1.11, 8.72),
        (12.5, StrengthWord.NAOCL_PERCENT, 1.18, 14.05),
    ],
)
def test_labels_are_converted(value: float, word: StrengthWord, density: float | None, trade: float) -> None:
    assert strengths.hypochlorite_g_l(value, word, density) / 10.0 == pytest.approx(trade, rel=0.001)


@given(st.floats(20.0, 180.0), st.floats(1.0, 1.3), st.sampled_from(list(StrengthWord)))
def test_every_word_comes_back(g_l: float, density: float, word: StrengthWord) -> None:
    said = strengths.hypochlorite_strength(g_l, word, density)
    assert strengths.hypochlorite_g_l(said, word, density) == pytest.approx(g_l, rel=1e-9)


def test_a_bare_percentage_is_refused_with_all_its_readings() -> None:
    with pytest.raises(ValueError, match="125 g/L if trade %") as refusal:
        strengths.hypochlorite_g_l(12.5, None)
    assert "weight % available chlorine" in str(refusal.value)
    assert "weight % sodium hypochlorite" in str(refusal.value)


def test_a_weight_percentage_without_density_and_a_fraction_are_refused() -> None:
    with pytest.raises(ValueError, match="a weight percentage needs it"):
        strengths.hypochlorite_g_l(12.5, StrengthWord.AVAILABLE_PERCENT)
    with pytest.raises(ValueError, match=r"give 12\.5"):
        strengths.hypochlorite_g_l(0.125, StrengthWord.TRADE_PERCENT)
    with pytest.raises(ValueError, match="give 31"):
        strengths.acid_meq_ml(0.31)


@pytest.mark.parametrize(("percent", "density", "mol_l"), [(31.45, 1.160, 10.01), (33.0, 1.164, 10.54), (14.8, 1.0715, 4.35)])
def test_acid_strengths(percent: float, density: float, mol_l: float) -> None:
    assert strengths.acid_meq_ml(percent, density) == pytest.approx(mol_l, abs=0.006)
    # With no density given the typical one is near enough for a label that gives none.
    assert strengths.acid_meq_ml(percent) == pytest.approx(mol_l, rel=0.006)


def test_one_millilitre_per_cubic_metre_takes_half_a_milligram_per_litre() -> None:
    assert strengths.acid_ta_mg_per_ml(31.45, 1.160) == pytest.approx(500.7, abs=0.5)
    assert strengths.acid_ml(10.01, 31.45, 1.160) == pytest.approx(1.0, abs=0.001)


def test_typical_density_of_hypochlorite_is_that_of_labels() -> None:
    assert strengths.typical_hypochlorite_density_kg_l(10.0) == pytest.approx(1.14, abs=0.01)
    assert strengths.typical_hypochlorite_density_kg_l(12.5) == pytest.approx(1.17, abs=0.01)
    assert strengths.typical_hypochlorite_density_kg_l(6.2) == pytest.approx(1.085, abs=0.01)
