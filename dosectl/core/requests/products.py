"""Products as people name them, and what an amount of one does. A strength that is missing or ambiguous is refused."""

from collections.abc import Mapping

from dosectl.chemistry.answers.dechlorination import NEUTRALISERS
from dosectl.chemistry.answers.dosing import Supply, acid, granules, hypochlorite, neutraliser
from dosectl.chemistry.products import product
from dosectl.chemistry.strengths import StrengthWord, hypochlorite_g_l

# What a person calls it, and the registry's key. Chlorine gas is left out: it is no product for a home.
NAMES: Mapping[str, str] = {
    "hypochlorite": "sodium_hypochlorite",
    "calcium-hypochlorite": "calcium_hypochlorite",
    "dichlor": "dichlor",
    "dichlor-dihydrate": "dichlor_dihydrate",
    "trichlor": "trichlor",
    "chlorinator": "electrolysis",
    "acid": "hydrochloric_acid",
    "dry-acid": "dry_acid",
    "soda-ash": "soda_ash",
    "bicarbonate": "bicarbonate",
    "caustic-soda": "caustic_soda",
    "stabiliser": "cyanuric_acid",
    "calcium-chloride": "calcium_chloride",
    "calcium-chloride-dihydrate": "calcium_chloride_dihydrate",
    "salt": "salt",
    "borax": "borax",
    "boric-acid": "boric_acid",
}
NEUTRALISER_NAMES: Mapping[str, str] = {n.key.replace("_", "-"): n.key for n in NEUTRALISERS}
HANDLED: tuple[str, ...] = (*(name for name in NAMES if name != "chlorinator"), *NEUTRALISER_NAMES)
STRENGTHS: Mapping[str, StrengthWord] = {
    "strength_trade_percent": StrengthWord.TRADE_PERCENT,
    "strength_available_percent": StrengthWord.AVAILABLE_PERCENT,
    "strength_naocl_percent": StrengthWord.NAOCL_PERCENT,
    "strength_available_g_l": StrengthWord.GRAMS_PER_LITRE,
}


def supply(name: str, strengths: Mapping[str, float], percent: float | None, density_kg_l: float | None) -> Supply:
    """A product by its label. `strengths` holds what was said of `STRENGTHS`.

    Raises ValueError where the strength is missing, ambiguous, of another kind of product, or impossible.
    """
    if name in NEUTRALISER_NAMES:
        if strengths:
            raise ValueError(
                f"available chlorine of {name}: accepted is none, it takes chlorine away; give its purity in percent"
            )
        return neutraliser(NEUTRALISER_NAMES[name], purity_percent=percent)
    key = NAMES[name]
    if name == "hypochlorite":
        if percent is not None and not strengths:
            hypochlorite_g_l(percent, None)  # raises, with all readings of a bare percentage
        if not strengths:
            raise ValueError(
                "strength of hypochlorite = none: accepted is the label's figure and what it counts: trade percent (g of "
                "available chlorine in 100 mL), g/L of available chlorine, or percent by weight with the density"
            )
        if len(strengths) != 1 or percent is not None:
            raise ValueError("strength of hypochlorite = several: accepted is the one that the label says")
        (word, value), *_ = strengths.items()
        return hypochlorite(hypochlorite_g_l(value, STRENGTHS[word], density_kg_l))
    if product(key).is_chlorine:
        if percent is not None or set(strengths) != {"strength_available_percent"}:
            raise ValueError(f"strength of {name}: accepted is exactly its percentage of available chlorine, as the label says")
        return granules(key, available_percent=strengths["strength_available_percent"])
    if strengths:
        raise ValueError(f"available chlorine of {name}: accepted is none, it adds no chlorine; give its percentage by weight")
    if name == "acid":
        if percent is None:
            raise ValueError("strength of acid = none: accepted is the label's percentage by weight, 1 to 40")
        return acid(percent, density_kg_l)
    return granules(key, purity_percent=percent)
