"""What a person puts into the water by hand, with the unit in the product's name.

Stoichiometry is exact; strengths are those of common trade goods.
"""

from dataclasses import dataclass

from dosectl.pool_model.water import CACO3_PER_CL2, Water


@dataclass(frozen=True, slots=True)
class Product:
    """Effect of one unit: g of chlorine, of alkalinity (CaCO3) at once, of inorganic carbon (mmol), of stabiliser, of salt.

    Alkalinity excludes what the chlorine itself brings; that is counted with the chlorine and lost with it.
    """

    chlorine_g: float = 0.0
    alkalinity_g: float = 0.0
    carbon_mmol: float = 0.0
    cya_g: float = 0.0
    salt_g: float = 0.0


PRODUCTS: dict[str, Product] = {
    "hypochlorite_125_g_l_ml": Product(chlorine_g=0.125),
    "cal_hypo_65_g": Product(chlorine_g=0.65),
    # Trichlor and dichlor: net alkalinity -0.706 and -0.353 per mg of chlorine, when the chlorine is used up.
    "trichlor_g": Product(chlorine_g=0.90, alkalinity_g=-0.90 * CACO3_PER_CL2, cya_g=0.90 * 0.607),
    "dichlor_g": Product(chlorine_g=0.554, alkalinity_g=-0.554 * 0.353, cya_g=0.554 * 0.910),
    "acid_31_ml": Product(alkalinity_g=-0.501),
    "acid_15_ml": Product(alkalinity_g=-0.221),
    "dry_acid_g": Product(alkalinity_g=-0.417),
    "bicarbonate_g": Product(alkalinity_g=0.5957, carbon_mmol=11.904),
    "soda_ash_g": Product(alkalinity_g=0.9443, carbon_mmol=9.435),
    "stabiliser_g": Product(cya_g=1.0),
    "salt_g": Product(salt_g=1.0),
    "thiosulfate_g": Product(chlorine_g=-0.6),
}


def apply(product: str, amount: float, water: Water, volume_m3: float) -> None:
    """Puts it in, mixed at once. Raises KeyError for an unknown product, ValueError for a negative amount."""
    what = PRODUCTS.get(product)
    if what is None:
        raise KeyError(f"product {product!r} is not known, so nothing was added; known are: {', '.join(PRODUCTS)}")
    if not 0.0 <= amount < 1e7:
        raise ValueError(f"{product} = {amount!r}: accepted is 0 or more, in the unit at the end of its name")
    share = amount / volume_m3
    chlorine = max(-water.chlorine_mg_l, what.chlorine_g * share)
    water.chlorine_mg_l += chlorine
    water.alkalinity_mg_l += CACO3_PER_CL2 * chlorine + what.alkalinity_g * share
    water.dic_mol_l += what.carbon_mmol * share / 1e6
    water.cya_mg_l += what.cya_g * share
    water.salt_g_l += what.salt_g * share / 1000.0
    water.settle()
