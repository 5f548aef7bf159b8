"""What must never meet."""

import itertools

import pytest

from dosectl.chemistry import products
from dosectl.chemistry.answers import mixing
from dosectl.chemistry.answers.dechlorination import NEUTRALISERS
from dosectl.chemistry.products import Family

KEYS = [p.key for p in products.REGISTRY] + [n.key for n in NEUTRALISERS]


@pytest.mark.parametrize("acid", [p.key for p in products.REGISTRY if p.family is Family.ACID])
@pytest.mark.parametrize("chlorine", [p.key for p in products.REGISTRY if p.is_chlorine])
def test_acid_and_any_chlorine_give_chlorine_gas(acid: str, chlorine: str) -> None:
    told = mixing.danger(acid, chlorine)
    assert told is not None
    assert "chlorine gas" in told


def test_trichlor_and_calcium_hypochlorite_burn() -> None:
    told = mixing.danger("trichlor", "calcium_hypochlorite")
    assert told is not None
    assert "nitrogen trichloride" in told


def test_a_neutraliser_and_concentrated_chlorine_are_dangerous() -> None:
    assert mixing.danger("thiosulfate", "sodium_hypochlorite") is not None


def test_danger_does_not_depend_on_which_is_named_first() -> None:
    for one, other in itertools.combinations(KEYS, 2):
        assert (mixing.danger(one, other) is None) == (mixing.danger(other, one) is None)


def test_harmless_pairs_are_not_cried_over() -> None:
    assert mixing.danger("salt", "bicarbonate") is None
    assert mixing.danger("trichlor", "trichlor") is None


@pytest.mark.parametrize("key", KEYS)
def test_every_product_has_its_notes(key: str) -> None:
    notes = " ".join(mixing.safety_notes(key))
    assert "label" in notes
    assert "eyes and skin" in notes
    family = next((p.family for p in products.REGISTRY if p.key == key), Family.REDUCER)
    assert ("skimmer" in notes) == (family is Family.ACID or (family in mixing.CHLORINES))
