"""How much acid the water bears at least, by how far fed acid is seen to lower its pH.

The less alkalinity is left, the further each milligram of acid moves the pH: water that acid moves little still buffers. Changes
of pH are pooled feed by feed, each within its own hour of flow; older ones fade with the acid fed. Raw readings and the ledger
only. What may be wrong is put on the side of less: a tired electrode shows less of each fall, and so does acid that has not mixed
yet. Acid stronger or weaker than booked moves the pH by as much more or less.

What the water rises by itself in those hours hides part of each fall, and where a cell's bubbles drive out CO2 it rises while the
pump runs alone. All that acid lowers in a day comes back in a day, as long as the pH is held; so at most it comes back in the
hours of flow, and of those the share in which feeds are followed is known. That much is taken to be hidden.
"""

import math
from typing import NamedTuple

from dosectl.chemistry.activity import ionic_strength_from_salt
from dosectl.chemistry.buffering import MG_CACO3_PER_EQ, alkalinity_eq_l, buffers, constants
from dosectl.core.evidence import Evidence
from dosectl.core.interlocks.after_feed import Response
from dosectl.model.water_tests import Quantity

FADE_MG_L = 10.0  # engineering judgement: a week or two of acid
FEEDS_LEAST, MASS_LEAST_MG_L = 8.0, 4.0  # engineering judgement: one gust or one step of the electrode must not decide
RISE_MOST, FALL_MOST = 0.1, 0.6  # pH per mg/L that one feed may count with; derived: 0.6 is that of 10 mg/L of alkalinity
SEEN_LEAST = 0.2  # of the mass; where feeds are followed nearly always, what the rise hides of them can't be told
LAG_H = 1.0  # engineering judgement: an electrode that is slower shows in its calibration
UNSEEN_H = 1.0 / 6.0  # derived: five minutes of smoothing, and as much until a feed has mixed in
SHOWN_SHARE = 0.75  # of a fall that may be all that shows; engineering judgement: a slope of 75 %, or a lag of an hour
MOST_MG_L = 250.0  # of alkalinity that falls may show; common practice: no pool holds more, so acid or probe is dead
LOW_PH = 6.6  # as at the end of the budget by a test of the alkalinity
STEP_PH = 0.1


class Falls(NamedTuple):
    """What acid was seen to do. The older of it fades, but for the last two.

    mass_mg_l, fall, number : of the feeds that were followed: mass [mg/L as CaCO3], fall of pH, how many
    followed_flow_h, flow_h : hours of flow in which they were, hours of flow in all
    followed_h, hours, fed_mg_l : the same with the pauses; acid fed in all
    ph : mean of those feeds by mass, for the same water falls further at a higher one
    flow_s, clock_s, total_g : flow clock, plant clock and acid fed in all since ever, at the last of them
    """

    mass_mg_l: float = 0.0
    fall: float = 0.0
    number: float = 0.0
    followed_flow_h: float = 0.0
    flow_h: float = 0.0
    followed_h: float = 0.0
    hours: float = 0.0
    fed_mg_l: float = 0.0
    ph: float = 0.0
    flow_s: float = -1.0
    clock_s: float = 0.0
    total_g: float = 0.0

    def and_one(self, response: Response, evidence: Evidence, total_g: float) -> "Falls":
        """With one feed more. total_g : acid fed in all since ever."""
        flow_s, clock_s = evidence.flow.clock_s, evidence.clock_s
        if self.flow_s < 0.0 or flow_s < self.flow_s or total_g < self.total_g:  # since when, and what, is not known
            return self._replace(flow_s=flow_s, clock_s=clock_s, total_g=total_g)
        fall = max(-RISE_MOST * response.mass_mg_l, min(FALL_MOST * response.mass_mg_l, -response.change))
        shown_mg_l = response.mass_mg_l * _shown(response)
        keep = FADE_MG_L / (FADE_MG_L + response.mass_mg_l)
        mass_mg_l = self.mass_mg_l * keep + shown_mg_l
        return Falls(
            mass_mg_l,
            self.fall * keep + fall,
            self.number * keep + 1.0,
            self.followed_flow_h * keep + response.flow_h,
            self.flow_h * keep + (flow_s - self.flow_s) / 3600.0,
            self.followed_h * keep + response.hours,
            self.hours * keep + max(0.0, clock_s - self.clock_s) / 3600.0,
            self.fed_mg_l * keep + (total_g - self.total_g) / evidence.site.pool.volume_m3,
            self.ph + (response.value - self.ph) * shown_mg_l / mass_mg_l,
            flow_s,
            clock_s,
            total_g,
        )

    @property
    def per_mg_l(self) -> float | None:
        """Fall of pH by each mg/L, with all that the water's own rise may hide. None while too little was seen, or no fall."""
        if self.number < FEEDS_LEAST or self.mass_mg_l < MASS_LEAST_MG_L or self.fall <= 0.0 or self.flow_h <= 0.0:
            return None
        share = max(self.followed_flow_h / self.flow_h, self.followed_h / self.hours if self.hours > 0.0 else 1.0)
        hidden_mg_l = self.fed_mg_l * share  # what so much rise would make up for
        seen_mg_l = self.mass_mg_l - hidden_mg_l
        return self.fall / seen_mg_l if seen_mg_l >= SEEN_LEAST * self.mass_mg_l else None


def _shown(response: Response) -> float:
    """Share of a feed to reckon with where the flow ended before its hour was over: an electrode that lags by an hour has shown
    no more by then, and no later feed shows the rest. Of `SHOWN_SHARE`, which is taken off all of them."""
    seen_h = max(0.0, response.flow_h - UNSEEN_H)
    return min(1.0, (1.0 - math.exp(-seen_h / LAG_H)) / SHOWN_SHARE) if response.cut else 1.0


NO_FALLS = Falls()


def bears_mg_l(falls: Falls, evidence: Evidence, ph: float) -> float | None:
    """Acid that takes closed water from a pH to 6.6, at least. [mg/L as CaCO3]; None while too little was seen, or no fall.

    0 where acid moves the pH further than the stabiliser alone would let it, so that something else is wrong.
    """
    per_mg_l = falls.per_mg_l
    if per_mg_l is None:
        return None
    pool = evidence.site.pool
    test = evidence.newest_test(Quantity.STABILISER)
    other = buffers(pool.stabiliser_mg_l if test is None else test.value, pool.borate_b_mg_l)
    k = constants(ionic_strength=ionic_strength_from_salt(pool.salt_g_l))

    def held_eq_l(high_ph: float, low_ph: float, dic_mol_l: float) -> float:
        return alkalinity_eq_l(high_ph, dic_mol_l, other, k) - alkalinity_eq_l(low_ph, dic_mol_l, other, k)

    # Linear in the inorganic carbon, so two points tell how much of it the falls show.
    step_eq_l = STEP_PH / per_mg_l / MG_CACO3_PER_EQ
    without = held_eq_l(falls.ph, falls.ph - STEP_PH, 0.0)
    per_mol = held_eq_l(falls.ph, falls.ph - STEP_PH, 1.0) - without
    if step_eq_l <= without:
        return 0.0
    if alkalinity_eq_l(falls.ph, (step_eq_l - without) / per_mol, other, k) * MG_CACO3_PER_EQ > MOST_MG_L:
        return None
    dic_mol_l = max(0.0, SHOWN_SHARE * step_eq_l - without) / per_mol
    return max(0.0, held_eq_l(ph, LOW_PH, dic_mol_l) * MG_CACO3_PER_EQ)
