"""How much acid the water bears at least, by how far fed acid is seen to lower its pH.

The less alkalinity is left, the further each milligram of acid moves the pH: water that acid moves little still buffers. Falls
are pooled feed by feed, each within its own hour of flow, with the rise that the water makes by itself taken off; older ones fade
with the acid fed. Raw readings and the ledger only. What may be wrong is put on the side of less: a tired electrode shows less of
each fall, and so does acid that has not mixed yet. Acid stronger or weaker than booked moves the pH by as much more or less.
"""

from typing import NamedTuple

from dosectl.chemistry.activity import ionic_strength_from_salt
from dosectl.chemistry.buffering import MG_CACO3_PER_EQ, alkalinity_eq_l, buffers, constants
from dosectl.core.evidence import Evidence
from dosectl.core.interlocks.after_feed import Response
from dosectl.core.interlocks.by_itself import STRONG
from dosectl.model.water_tests import Quantity

FADE_MG_L = 10.0  # engineering judgement: a week or two of acid
FEEDS_LEAST, MASS_LEAST_MG_L = 8.0, 4.0  # engineering judgement: one gust or one step of the electrode must not decide
RISE_MOST, FALL_MOST = 0.1, 0.6  # pH per mg/L that one feed may count with; derived: 0.6 is that of 10 mg/L of alkalinity
SHOWN_SHARE = 0.6  # of a fall that may be all that shows; engineering judgement: a slope of 75 %, a pool mixed by four fifths
MOST_MG_L = 250.0  # of alkalinity that falls may show; common practice: no pool holds more, so acid or probe is dead
LOW_PH = 6.6  # as at the end of the budget by a test of the alkalinity
STEP_PH = 0.1


class Falls(NamedTuple):
    """What acid was seen to do: mass [mg/L as CaCO3], fall of pH in all, number of feeds, the older ones faded; and the mean pH
    of it, by mass, for the same water falls further where the pH is higher."""

    mass_mg_l: float = 0.0
    fall: float = 0.0
    number: float = 0.0
    ph: float = 0.0

    def and_one(self, response: Response, ph: float, rise_per_h: float | None) -> "Falls":
        """With one feed more. ph : by the probe; rise_per_h : the water's own rise [pH/h]; None, not known: a strong one, as that
        says more fall."""
        fall = (STRONG if rise_per_h is None else rise_per_h) * response.flow_h - response.change
        fall = max(-RISE_MOST * response.mass_mg_l, min(FALL_MOST * response.mass_mg_l, fall))
        keep = FADE_MG_L / (FADE_MG_L + response.mass_mg_l)
        mass_mg_l = self.mass_mg_l * keep + response.mass_mg_l
        mean_ph = self.ph + (ph - self.ph) * response.mass_mg_l / mass_mg_l
        return Falls(mass_mg_l, self.fall * keep + fall, self.number * keep + 1.0, mean_ph)


NO_FALLS = Falls()


def bears_mg_l(falls: Falls, evidence: Evidence, ph: float) -> float | None:
    """Acid that takes closed water from a pH to 6.6, at least. [mg/L as CaCO3]; None while too little was seen, or no fall.

    0 where acid moves the pH further than the stabiliser alone would let it, so that something else is wrong.
    """
    if falls.number < FEEDS_LEAST or falls.mass_mg_l < MASS_LEAST_MG_L or falls.fall <= 0.0:
        return None
    pool = evidence.site.pool
    test = evidence.newest_test(Quantity.STABILISER)
    other = buffers(pool.stabiliser_mg_l if test is None else test.value, pool.borate_b_mg_l)
    k = constants(ionic_strength=ionic_strength_from_salt(pool.salt_g_l))

    def held_eq_l(high_ph: float, low_ph: float, dic_mol_l: float) -> float:
        return alkalinity_eq_l(high_ph, dic_mol_l, other, k) - alkalinity_eq_l(low_ph, dic_mol_l, other, k)

    # Linear in the inorganic carbon, so two points tell how much of it the falls show.
    step_eq_l = STEP_PH * falls.mass_mg_l / falls.fall / MG_CACO3_PER_EQ
    without = held_eq_l(falls.ph, falls.ph - STEP_PH, 0.0)
    per_mol = held_eq_l(falls.ph, falls.ph - STEP_PH, 1.0) - without
    if step_eq_l <= without:
        return 0.0
    if alkalinity_eq_l(falls.ph, (step_eq_l - without) / per_mol, other, k) * MG_CACO3_PER_EQ > MOST_MG_L:
        return None
    dic_mol_l = max(0.0, SHOWN_SHARE * step_eq_l - without) / per_mol
    return max(0.0, held_eq_l(ph, LOW_PH, dic_mol_l) * MG_CACO3_PER_EQ)
