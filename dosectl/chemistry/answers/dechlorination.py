"""Neutralisers: how much takes free chlorine out of the water.

Chlorine on the ring is released as HOCl is used, so it reacts too and counts in full.
"""

from dataclasses import dataclass

from dosectl.chemistry import ranges
from dosectl.chemistry.cyanurate import CL2_G_MOL


@dataclass(frozen=True, slots=True)
class Neutraliser:
    """Grams of agent per gram of chlorine removed: least, usual and most, and the alkalinity it takes with it.

    `ta_mg_per_mg` is mg/L as CaCO3 per mg/L of chlorine, against the alkalinity with the chlorine standing as HOCl.
    """

    key: str
    words: str
    g_per_g_least: float
    g_per_g: float
    g_per_g_most: float
    ta_mg_per_mg: float
    source: str


_EQ_PER_CL2 = 50.0435 / CL2_G_MOL
_STOICHIOMETRY = "stoichiometry"
TA_OF_SPENT_CHLORINE = _EQ_PER_CL2  # what HOCl takes anyway as it becomes chloride, mg/L as CaCO3 per mg/L

NEUTRALISERS: tuple[Neutraliser, ...] = (
    # To sulfate it takes 4 Cl2 a mole, to tetrathionate 0.5: which one happens depends on dose and pH. Halves and
    # re-tests.
    Neutraliser(
        "thiosulfate",
        "sodium thiosulfate, anhydrous",
        0.558,
        1.9,
        4.46,
        -1.5 * _EQ_PER_CL2,
        "stoichiometry for least and most; usual: a field guide, pH 7",
    ),
    Neutraliser(
        "thiosulfate_pentahydrate",
        "sodium thiosulfate pentahydrate",
        0.875,
        1.9 * 248.18 / 158.11,
        7.00,
        -1.5 * _EQ_PER_CL2,
        "as anhydrous, by molar mass",
    ),
    Neutraliser("sulfite", "sodium sulfite", 1.78, 1.96, 1.96, -_EQ_PER_CL2, "stoichiometry; usual: a field guide"),
    Neutraliser("bisulfite", "sodium hydrogen sulfite", 1.47, 1.47, 1.6, -2.0 * _EQ_PER_CL2, _STOICHIOMETRY),
    Neutraliser("metabisulfite", "sodium metabisulfite", 1.34, 1.34, 1.5, -2.0 * _EQ_PER_CL2, _STOICHIOMETRY),
    Neutraliser("peroxide", "hydrogen peroxide, as pure H2O2", 0.480, 0.480, 0.55, -_EQ_PER_CL2, _STOICHIOMETRY),
    Neutraliser("ascorbic_acid", "ascorbic acid", 2.48, 2.5, 2.6, -_EQ_PER_CL2, "stoichiometry; usual: a field guide"),
)


def neutraliser(key: str) -> Neutraliser:
    """A neutraliser by key. ValueError names those there are."""
    for n in NEUTRALISERS:
        if n.key == key:
            return n
    raise ValueError(f"neutraliser = {key!r}: accepted is one of {', '.join(n.key for n in NEUTRALISERS)}")


def neutraliser_g(key: str, free_chlorine_drop_mg_l: float, volume_m3: float) -> tuple[float, float, float]:
    """Least, usual and most grams that take this much chlorine out of this volume.

    The first portion must be the least: an agent in excess leaves the pool unable to hold chlorine. Re-test
    between.
    """
    n = neutraliser(key)
    grams = ranges.FREE_CHLORINE.check(free_chlorine_drop_mg_l) * ranges.VOLUME.check(volume_m3)
    return grams * n.g_per_g_least, grams * n.g_per_g, grams * n.g_per_g_most
