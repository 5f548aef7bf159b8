"""What each product does to the water, by active substance and never by brand.

Every figure is stoichiometry on IUPAC molar masses. Fillers of trade goods and the excess caustic of hypochlorite
are not in it; they raise alkalinity and pH a little more.
"""

from dataclasses import dataclass, fields
from enum import StrEnum

from dosectl.chemistry import ranges
from dosectl.chemistry.activity import NACL_G_MOL
from dosectl.chemistry.buffering import BORON_G_MOL
from dosectl.chemistry.cyanurate import CL2_G_MOL, CYANURIC_ACID_G_MOL
from dosectl.chemistry.ranges import Range
from dosectl.chemistry.strengths import HCL_G_MOL, NAHSO4_G_MOL, NAOCL_G_MOL, acid_meq_ml, acid_ta_mg_per_ml

__all__ = ["REGISTRY", "Effects", "Family", "Product", "acid_meq_ml", "acid_ta_mg_per_ml", "addition", "product"]

_EQ = 50.0435  # g of CaCO3 per equivalent
_CACO3 = 100.087
MASS = Range("mass", 0.0, 1e7, "g")


class Family(StrEnum):
    """What a product is to others: decides what must never meet it."""

    HYPOCHLORITE = "hypochlorite"
    CALCIUM_HYPOCHLORITE = "calcium hypochlorite"
    ISOCYANURATE = "chlorinated isocyanurate"
    ELECTROLYTIC = "electrolytic chlorine"
    GAS = "chlorine gas"
    ACID = "acid"
    ALKALI = "alkali"
    STABILISER = "stabiliser"
    SALT = "salt"
    REDUCER = "reducing agent"


@dataclass(frozen=True, slots=True)
class Effects:
    """Change of the water, all in mg/L but inorganic carbon (mmol/L). g/m3 is mg/L.

    `ta_instant` counts HOCl and cyanuric acid as zero, OCl- and H2Cy- as one equivalent; `ta_net` is what is left
    once the added chlorine has become chloride. Salt is chloride told as NaCl.
    """

    free_chlorine_mg_l: float = 0.0
    ta_instant_mg_l: float = 0.0
    ta_net_mg_l: float = 0.0
    cya_mg_l: float = 0.0
    hardness_mg_l: float = 0.0
    salt_mg_l: float = 0.0
    sulfate_mg_l: float = 0.0
    borate_b_mg_l: float = 0.0
    dic_mmol_l: float = 0.0

    def scaled(self, factor: float) -> "Effects":
        """The same addition, `factor` times as much."""
        return Effects(*(getattr(self, f.name) * factor for f in fields(self)))

    def plus(self, other: "Effects") -> "Effects":
        """Both additions together; order does not matter."""
        return Effects(*(getattr(self, f.name) + getattr(other, f.name) for f in fields(self)))


@dataclass(frozen=True, slots=True)
class Product:
    """One active substance. `per_g` is the effect of 1 g of the pure substance in 1 m3 of water."""

    key: str
    words: str
    formula: str
    family: Family
    g_mol: float
    per_g: Effects
    available_percent: float = 0.0  # available chlorine of the pure substance, w/w; 0 for what is no chlorine product
    solid: bool = True

    @property
    def is_chlorine(self) -> bool:
        """Whether it adds free chlorine."""
        return self.per_g.free_chlorine_mg_l > 0.0

    def per_g_chlorine(self) -> Effects:
        """Effect of as much of it as holds 1 g of available chlorine, in 1 m3."""
        if not self.is_chlorine:
            raise ValueError(f"{self.key}: accepted is a chlorine product; this one adds none")
        return self.per_g.scaled(1.0 / self.per_g.free_chlorine_mg_l)


def _chlorine(
    key: str,
    words: str,
    formula: str,
    family: Family,
    g_mol: float,
    n: float,
    *,
    instant: float,
    net: float,
    salt: float,
    cya: float = 0.0,
    calcium: float = 0.0,
    solid: bool = True,
) -> Product:
    """Made from equivalents and moles per mole of substance that carries `n` moles of available chlorine."""
    cl = n * CL2_G_MOL / g_mol
    effects = Effects(
        free_chlorine_mg_l=cl,
        ta_instant_mg_l=instant * _EQ / g_mol,
        ta_net_mg_l=net * _EQ / g_mol,
        cya_mg_l=cya * CYANURIC_ACID_G_MOL / g_mol,
        hardness_mg_l=calcium * _CACO3 / g_mol,
        salt_mg_l=salt * NACL_G_MOL / g_mol,
    )
    return Product(key, words, formula, family, g_mol, effects, 100.0 * cl, solid)


def _other(
    key: str,
    words: str,
    formula: str,
    family: Family,
    g_mol: float,
    *,
    ta: float = 0.0,
    cya: float = 0.0,
    calcium: float = 0.0,
    salt: float = 0.0,
    sulfate: float = 0.0,
    boron: float = 0.0,
    carbon: float = 0.0,
    solid: bool = True,
) -> Product:
    effects = Effects(
        ta_instant_mg_l=ta * _EQ / g_mol,
        ta_net_mg_l=ta * _EQ / g_mol,
        cya_mg_l=cya * CYANURIC_ACID_G_MOL / g_mol,
        hardness_mg_l=calcium * _CACO3 / g_mol,
        salt_mg_l=salt * NACL_G_MOL / g_mol,
        sulfate_mg_l=sulfate * 96.06 / g_mol,
        borate_b_mg_l=boron * BORON_G_MOL / g_mol,
        dic_mmol_l=carbon / g_mol,
    )
    return Product(key, words, formula, family, g_mol, effects, 0.0, solid)


REGISTRY: tuple[Product, ...] = (
    _chlorine(
        "sodium_hypochlorite",
        "liquid sodium hypochlorite",
        "NaOCl",
        Family.HYPOCHLORITE,
        NAOCL_G_MOL,
        1,
        instant=1,
        net=0,
        salt=2,
        solid=False,
    ),
    _chlorine(
        "calcium_hypochlorite",
        "calcium hypochlorite",
        "Ca(OCl)2",
        Family.CALCIUM_HYPOCHLORITE,
        142.98,
        2,
        instant=2,
        net=0,
        salt=2,
        calcium=1,
    ),
    _chlorine(
        "dichlor",
        "sodium dichloroisocyanurate, anhydrous",
        "NaCl2C3N3O3",
        Family.ISOCYANURATE,
        219.94,
        2,
        instant=1,
        net=-1,
        salt=2,
        cya=1,
    ),
    _chlorine(
        "dichlor_dihydrate",
        "sodium dichloroisocyanurate dihydrate",
        "NaCl2C3N3O3.2H2O",
        Family.ISOCYANURATE,
        255.97,
        2,
        instant=1,
        net=-1,
        salt=2,
        cya=1,
    ),
    _chlorine(
        "trichlor", "trichloroisocyanuric acid", "Cl3C3N3O3", Family.ISOCYANURATE, 232.40, 3, instant=0, net=-3, salt=3, cya=1
    ),
    _chlorine("chlorine_gas", "chlorine gas", "Cl2", Family.GAS, CL2_G_MOL, 1, instant=-1, net=-2, salt=2, solid=False),
    # Told per gram of chlorine made. The salt was in the pool before and comes back, so it counts as none.
    _chlorine(
        "electrolysis",
        "chlorine made from the pool's salt",
        "-",
        Family.ELECTROLYTIC,
        CL2_G_MOL,
        1,
        instant=1,
        net=0,
        salt=0,
        solid=False,
    ),
    _other("hydrochloric_acid", "hydrochloric acid", "HCl", Family.ACID, HCL_G_MOL, ta=-1, salt=1, solid=False),
    _other("dry_acid", "sodium hydrogen sulfate", "NaHSO4", Family.ACID, NAHSO4_G_MOL, ta=-1, sulfate=1),
    _other("soda_ash", "sodium carbonate", "Na2CO3", Family.ALKALI, 105.988, ta=2, carbon=1),
    _other("bicarbonate", "sodium hydrogen carbonate", "NaHCO3", Family.ALKALI, 84.007, ta=1, carbon=1),
    _other("caustic_soda", "sodium hydroxide", "NaOH", Family.ALKALI, 39.997, ta=1),
    # Total alkalinity does not move, yet pH falls: cyanuric acid takes part of it over.
    _other("cyanuric_acid", "cyanuric acid", "C3H3N3O3", Family.STABILISER, CYANURIC_ACID_G_MOL, cya=1),
    _other("calcium_chloride", "calcium chloride, anhydrous", "CaCl2", Family.SALT, 110.98, calcium=1, salt=2),
    _other("calcium_chloride_dihydrate", "calcium chloride dihydrate", "CaCl2.2H2O", Family.SALT, 147.01, calcium=1, salt=2),
    _other("salt", "sodium chloride", "NaCl", Family.SALT, NACL_G_MOL, salt=1),
    _other("borax", "borax decahydrate", "Na2B4O7.10H2O", Family.ALKALI, 381.37, ta=2, boron=4),
    _other("boric_acid", "boric acid", "B(OH)3", Family.SALT, 61.83, boron=1),
)

_BY_KEY = {p.key: p for p in REGISTRY}


def product(key: str) -> Product:
    """A product of the registry. ValueError names those there are."""
    try:
        return _BY_KEY[key]
    except KeyError:
        raise ValueError(f"product = {key!r}: accepted is one of {', '.join(_BY_KEY)}") from None


def addition(
    key: str,
    mass_g: float,
    volume_m3: float,
    *,
    available_percent: float | None = None,
    purity_percent: float | None = None,
) -> Effects:
    """What a mass of a product does to a pool of this volume, mixed.

    A trade chlorine product must say its strength as `available_percent`, others may say `purity_percent`; None is
    the pure substance. A figure of 1 or less is refused as a fraction, one above the pure substance as impossible.
    """
    p = product(key)
    MASS.check(mass_g)
    ranges.VOLUME.check(volume_m3)
    if available_percent is not None:
        if not p.is_chlorine:
            raise ValueError(f"available chlorine = {available_percent!r} % of {key}: accepted is none, it adds no chlorine")
        limit = Range(f"available chlorine of {key}", 1.01, p.available_percent * 1.005, "%", "the pure substance has no more")
        share = limit.check(available_percent) / p.available_percent
    elif purity_percent is not None:
        share = Range(f"purity of {key}", 1.01, 100.0, "%", "give percent, not a fraction").check(purity_percent) / 100.0
    else:
        share = 1.0
    return p.per_g.scaled(share * mass_g / volume_m3)
