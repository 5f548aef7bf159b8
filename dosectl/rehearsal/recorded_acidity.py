"""pH on record, and what acid more or less would have made of it."""

import math
from dataclasses import dataclass
from datetime import datetime

from dosectl.chemistry import carbonate
from dosectl.chemistry.gas_exchange import ph_at_air_equilibrium
from dosectl.core.control.acid import LEAST_ALKALINITY_MG_L
from dosectl.core.estimate.params import EstimateParams
from dosectl.core.estimate.state import Estimate
from dosectl.core.estimate.view import water
from dosectl.core.site import Pool
from dosectl.model.feeds import Substance
from dosectl.model.signals import SignalKind
from dosectl.rehearsal.past import Past

PH_LEAST, PH_MOST = 5.0, 9.5


@dataclass(frozen=True, slots=True)
class Learnt:
    """What the controller has learnt of this pool by now."""

    params: EstimateParams
    estimate: Estimate
    at: datetime


@dataclass(frozen=True, slots=True)
class Acidity:
    """pH on record, and what acid more or less would have done. fades_a_day : share of a difference that is gone in a day"""

    values: tuple[float, ...]
    fades_a_day: float
    alkalinity_mg_l: float
    cya_mg_l: float
    temp_c: float
    pool: Pool

    @classmethod
    def of(cls, past: Past, learnt: Learnt) -> "Acidity":
        est, pool = learnt.estimate, past.site.pool
        read = past.of_kind(SignalKind.PH)
        offset, held, values = est.ph[1], est.ph[0], []
        for minute in range(past.minutes):
            if read is not None and not math.isnan(read[minute]):
                held = read[minute] - offset
            values.append(held)
        view = water(past.site, est, learnt.params)
        alkalinity = max(view.alkalinity_mg_l, LEAST_ALKALINITY_MG_L + 0.4 * view.cya_mg_l)
        temp_c = min(45.0, max(0.0, view.temp_c))
        still = cls(tuple(values), 0.0, alkalinity, view.cya_mg_l, temp_c, pool)
        days = past.minutes / 1440.0
        usual = sum(values) / len(values)
        end = ph_at_air_equilibrium(
            alkalinity, view.cya_mg_l, borate_b_mg_l=pool.borate_b_mg_l, temp_c=temp_c, salt_g_l=pool.salt_g_l
        )
        rise = (values[-1] - values[0]) / days - still.after(usual, past.fed_in_all(Substance.ACID) / days)
        fades = min(1.0, max(0.0, rise / max(0.1, end - usual)))
        return cls(still.values, fades, alkalinity, view.cya_mg_l, temp_c, pool)

    def recorded(self, minute: float) -> float:
        """pH as the probe showed it, its learnt offset taken off."""
        return self.values[min(len(self.values) - 1, max(0, math.floor(minute)))]

    def after(self, ph: float, acid_mg_l: float) -> float:
        """What so much acid changes the pH by."""
        if acid_mg_l == 0.0:
            return 0.0
        here = min(PH_MOST, max(PH_LEAST, ph))
        moved = carbonate.ph_after_acid(
            self.alkalinity_mg_l, self.cya_mg_l, here, min(acid_mg_l, 0.5 * self.alkalinity_mg_l),
            borate_b_mg_l=self.pool.borate_b_mg_l, temp_c=self.temp_c, salt_g_l=self.pool.salt_g_l,
        )  # fmt: skip
        return moved - here
