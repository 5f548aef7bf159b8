"""Words of strength, converted rightly and refused where they are ambiguous.

"12.5 %" of sodium hypochlorite spans 17 % of chlorine between its readings, and a label rarely says which one it
means. Source of the definitions: White, Handbook of Chlorination, from memory.
"""

from enum import StrEnum

from dosectl.chemistry import ranges
from dosectl.chemistry.buffering import MG_CACO3_PER_EQ
from dosectl.chemistry.cyanurate import CL2_G_MOL
from dosectl.chemistry.ranges import Range

NAOCL_G_MOL = 74.442
HCL_G_MOL = 36.461
NAHSO4_G_MOL = 120.06
HYPOCHLORITE_PERCENT = Range("hypochlorite strength", 1.0, 30.0, "%", "0.125 would be a fraction: give 12.5")
HYPOCHLORITE_DENSITY = Range("hypochlorite density", 1.0, 1.4, "kg/L")
HCL_PERCENT = Range("hydrochloric acid", 1.0, 40.0, "% w/w", "0.31 would be a fraction: give 31")
HCL_DENSITY = Range("hydrochloric acid density", 1.0, 1.25, "kg/L")


class StrengthWord(StrEnum):
    """How a hypochlorite label counts."""

    GRAMS_PER_LITRE = "g/L available chlorine"
    TRADE_PERCENT = "trade %"  # g available chlorine per 100 mL
    AVAILABLE_PERCENT = "weight % available chlorine"
    NAOCL_PERCENT = "weight % sodium hypochlorite"


def hypochlorite_g_l(value: float, word: StrengthWord | None, density_kg_l: float | None = None) -> float:
    """Available chlorine of liquid hypochlorite. [g/L as Cl2]

    Parameters
    ----------
    value : The figure of the label.
    word : What it counts. None, a bare "%", raises ValueError with all readings, for a person to choose from.
    density_kg_l : Needed with the weight percentages; refused when lacking, since it moves the answer by 10-20 %.
    """
    if word is None:
        HYPOCHLORITE_PERCENT.check(value)
        density = typical_hypochlorite_density_kg_l(value)
        readings = ", ".join(
            f"{hypochlorite_g_l(value, w, density):.0f} g/L if {w.value}"
            for w in StrengthWord
            if w is not StrengthWord.GRAMS_PER_LITRE
        )
        raise ValueError(
            f"hypochlorite strength = {value:g} %: accepted is a figure that says what it counts; it is {readings}. "
            "Give it as that kind of percentage, and a weight percentage with the density"
        )
    if word is StrengthWord.GRAMS_PER_LITRE:
        return Range("hypochlorite strength", 5.0, 300.0, "g/L", "a percentage? say which").check(value)
    HYPOCHLORITE_PERCENT.check(value)
    if word is StrengthWord.TRADE_PERCENT:
        return 10.0 * value
    if density_kg_l is None:
        raise ValueError(
            f"hypochlorite density = none, with {value:g} {word.value}: accepted is 1 to 1.4 kg/L; a weight percentage needs it: "
            f"the safety data sheet has it in section 9, and fresh product of this strength has about "
            f"{typical_hypochlorite_density_kg_l(1.1 * value):.2f}"
        )
    per_litre = 10.0 * value * HYPOCHLORITE_DENSITY.check(density_kg_l)
    return per_litre * CL2_G_MOL / NAOCL_G_MOL if word is StrengthWord.NAOCL_PERCENT else per_litre


def hypochlorite_strength(g_l: float, word: StrengthWord, density_kg_l: float) -> float:
    """The inverse of `hypochlorite_g_l`: how a label would say this strength."""
    ranges.STRENGTH_G_L.check(g_l)
    HYPOCHLORITE_DENSITY.check(density_kg_l)
    if word is StrengthWord.GRAMS_PER_LITRE:
        return g_l
    if word is StrengthWord.TRADE_PERCENT:
        return g_l / 10.0
    available = g_l / 10.0 / density_kg_l
    return available * NAOCL_G_MOL / CL2_G_MOL if word is StrengthWord.NAOCL_PERCENT else available


def typical_hypochlorite_density_kg_l(trade_percent: float) -> float:
    """Density of fresh product by its trade percentage: 1 + 0.0138 x. Common practice, within 0.01; never for dosing."""
    return 1.0 + 0.0138 * HYPOCHLORITE_PERCENT.check(trade_percent)


def typical_hcl_density_kg_l(percent_w_w: float) -> float:
    """Density of hydrochloric acid by weight percentage: 1 + 0.00496 x. Within 0.4 % of handbook tables (from memory)."""
    return 1.0 + 0.00496 * HCL_PERCENT.check(percent_w_w)


def acid_meq_ml(percent_w_w: float, density_kg_l: float | None = None) -> float:
    """Strength of hydrochloric acid. [meq/mL = mol/L]. 31.45 % at 1.160 kg/L: 10.01. Density None: the typical one."""
    density = typical_hcl_density_kg_l(percent_w_w) if density_kg_l is None else HCL_DENSITY.check(density_kg_l)
    return 10.0 * HCL_PERCENT.check(percent_w_w) * density / HCL_G_MOL


def acid_ta_mg_per_ml(percent_w_w: float, density_kg_l: float | None = None) -> float:
    """Alkalinity that one mL of hydrochloric acid takes away. [mg as CaCO3]. 1 mL/m3 of 31.45 % takes 0.50 mg/L."""
    return acid_meq_ml(percent_w_w, density_kg_l) * MG_CACO3_PER_EQ / 1000.0


def acid_ml(meq: float, percent_w_w: float, density_kg_l: float | None = None) -> float:
    """Volume of hydrochloric acid that holds these milliequivalents. [mL]"""
    Range("acid", 0.0, 1e12, "meq").check(meq)
    return meq / acid_meq_ml(percent_w_w, density_kg_l)
