"""What must never meet, and what a person who handles a product has to know.

Sources: warnings of public authorities on pool chemicals, from memory; reactions by textbook. 1 L of 12.5 trade %
hypochlorite with enough acid can give off 125 g of chlorine, some 42 L of gas.
"""

from dosectl.chemistry.answers.dechlorination import NEUTRALISERS
from dosectl.chemistry.products import Family, product

CHLORINES = frozenset(
    {
        Family.HYPOCHLORITE,
        Family.CALCIUM_HYPOCHLORITE,
        Family.ISOCYANURATE,
        Family.ELECTROLYTIC,
        Family.GAS,
    }
)

_CHLORINE_GAS = "chlorine gas is set free at once; it kills in closed rooms"
_FIRE = "fire, explosion and nitrogen trichloride"
_TWO_CHLORINES = "heat, chlorine gas, possibly fire; a feeder or scoop used for one must never hold the other"
_TRICHLORIDE = "chlorine gas and nitrogen trichloride, which explodes; moisture is enough to start it"
_HEAT = "violent heat and spray"
_FUMES = "choking fumes of hydrogen chloride, heat and spray"
_REDUCER = "violent heat, possibly fire"
_SULFUR_DIOXIDE = "sulfur dioxide, a choking gas, is set free, with heat"
_FOAMS = "it decomposes with heat and oxygen, foams over and bursts closed vessels"


def _named(key: str) -> tuple[Family, str, bool]:
    """Family, words and whether it is solid, of a product or a neutraliser."""
    for n in NEUTRALISERS:
        if n.key == key:
            return Family.REDUCER, n.words, n.key != "peroxide"
    p = product(key)
    return p.family, p.words, p.solid


def family_of(key: str) -> Family:
    """Family of a product or a neutraliser. ValueError where it is neither."""
    return _named(key)[0]


def danger(one: str, other: str) -> str | None:
    """What happens when two products meet undiluted; None when nothing worse than a wasted dose is known.

    Every pair in the pool's water, each well mixed before the next, is another matter.
    """
    (family_a, words_a, _), (family_b, words_b, _) = _named(one), _named(other)
    families = {family_a, family_b}
    why = None if one == other else _danger_with_peroxide(one, other) or _danger_of(families)
    return None if why is None else f"{words_a} and {words_b}: {why}"


def _danger_with_peroxide(one: str, other: str) -> str | None:
    """Peroxide oxidises what the other neutralisers are, and does not bear alkali; with acid it can give off chlorine."""
    if "peroxide" not in (one, other):
        return None
    family = _named(other if one == "peroxide" else one)[0]
    if family is Family.ACID:
        return _CHLORINE_GAS + ", with heat"
    return {Family.REDUCER: _REDUCER, Family.ALKALI: _FOAMS}.get(family)


def _danger_of(families: set[Family]) -> str | None:
    if Family.ACID in families and families & CHLORINES:
        return _CHLORINE_GAS
    if families == {Family.CALCIUM_HYPOCHLORITE, Family.ISOCYANURATE}:
        return _FIRE
    if families == {Family.REDUCER, Family.ACID}:
        return _SULFUR_DIOXIDE
    if Family.REDUCER in families and families & CHLORINES:
        return _REDUCER
    if Family.STABILISER in families and families & CHLORINES:
        return _TRICHLORIDE
    if families == {Family.ISOCYANURATE, Family.ALKALI}:
        return _TRICHLORIDE
    if families == {Family.ACID, Family.ALKALI}:
        return _HEAT
    if families == {Family.ACID}:
        return _FUMES
    return _TWO_CHLORINES if families <= CHLORINES else None


def safety_notes(key: str) -> tuple[str, ...]:
    """What stands with every answer that has a person handle this product."""
    family, _, solid = _named(key)
    notes = [
        "Follow the label. One product at a time, with time to mix in between.",
        "Protect eyes and skin; open air; keep children away.",
    ]
    if solid:
        notes.append("Add product to water, never water to product. Dissolve where the label says so.")
    if family in CHLORINES or family is Family.ACID:
        notes.append("Never into the skimmer; pour over a wide area with the pump running and nobody in the water.")
    if family is Family.ACID:
        notes.append("Acid and any chlorine together set chlorine gas free: never store, carry or pour them together.")
    if family in {Family.ISOCYANURATE, Family.CALCIUM_HYPOCHLORITE}:
        notes.append("Never put tablets or granules of different kinds together: fire.")
    return tuple(notes)
