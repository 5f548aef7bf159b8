"""What free chlorine and pH will be over the next days under the plan.

The estimate's own model of the water is run on, hour by hour, under a plain picture of the plan: in the hours in which water
usually flows chlorine is fed towards the aim of control's own plan, as far as the feeders that nothing bars can, the day's limit
lets them and their containers last. The cover stays as it is, and the sun shines as it usually was told to. Doubt grows with the
time; what nobody can foresee (a party, a storm) is in it only as far as the estimate's noise holds it. It lags some
hours behind an aim that climbs, so nights may come out a little too low.
"""

from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from math import exp, sqrt

from dosectl.chemistry import decay
from dosectl.chemistry.gas_exchange import ph_at_air_equilibrium
from dosectl.core.advice.aims import planned
from dosectl.core.advice.feeding import Allowed, Feeding, capacity_mg_l_h, feeding, uv_at, within
from dosectl.core.advice.stocks import Stocks
from dosectl.core.control.acid import LEAST_ALKALINITY_MG_L, acid_wanted_mg_l
from dosectl.core.control.demand import USABLE_SHARE
from dosectl.core.control.habit import FlowHabit
from dosectl.core.control.params import ControlParams
from dosectl.core.control.wishes import ARRIVES_LEAST
from dosectl.core.estimate.chlorine import Spell, predict
from dosectl.core.estimate.filters import rows_of
from dosectl.core.estimate.params import EstimateParams
from dosectl.core.estimate.state import CHLORINE, EFFECT, Estimate, WaterView
from dosectl.core.estimate.view import stated_log_sigma, water
from dosectl.core.evidence import Standing
from dosectl.core.product import arriving_share, mean_share
from dosectl.core.site import Site
from dosectl.model.feeds import FeederId, Substance

__all__ = ["Allowed", "Hour", "ahead", "capacity_mg_l_h"]

Z90 = 1.6449
CATCHES_UP_H = 3.0
HOURS_MAX = 14 * 24
PH_SIGMA_A_DAY = 0.03  # own judgement


@dataclass(frozen=True, slots=True)
class Hour:
    """One hour ahead.

    low_mg_l, high_mg_l : bounds of free chlorine that hold with 90 %; fed_mg_l : fed in this hour, by the label
    light_share : of a clear sky's light, what is reckoned with
    empty : feeders that nothing bars and whose container has nothing left by the end of this hour
    """

    utc: datetime
    flows: bool
    free_chlorine_mg_l: float
    low_mg_l: float
    high_mg_l: float
    fed_mg_l: float
    ph: float
    ph_sigma: float
    light_share: float
    empty: tuple[FeederId, ...] = ()


def ahead(
    site: Site,
    params: EstimateParams,
    control: ControlParams,
    estimate: Estimate,
    habit: FlowHabit,
    standing: Standing,
    utc: datetime,
    hours: int,
    allowed: Allowed,
) -> tuple[Hour, ...]:
    """The coming hours, the present one first. Raises ValueError for hours outside 1 to 336: nothing is known further ahead."""
    if not 1 <= hours <= HOURS_MAX:
        raise ValueError(f"hours = {hours}: accepted is 1 to {HOURS_MAX}, as nothing is foretold beyond that")
    depth_share = decay.depth_factor(site.pool.depth_m, params.light_attenuation_per_m)
    mean, p = list(estimate.mean), rows_of(estimate.cov)
    view = water(site, estimate, params)
    sky = tuple(uv_at(site.pool, utc + timedelta(hours=hour + 0.5)) for hour in range(hours + 24))
    may = feeding(site, control, habit, standing, allowed)
    chlorine, acid = (_stocks(site, control, may, allowed, substance) for substance in (Substance.CHLORINE, Substance.ACID))
    ph, by_ph = view.ph, _acid_by_ph(site, control, estimate)
    rise = _usual_acid_mg_l(standing) / by_ph if by_ph > 0.0 else 0.0
    acidity = _Acidity(rise, control.ph_target + control.ph_deadband, _ph_in_air(site, view))
    now_s, water_c = estimate.updated_s or 0.0, estimate.temp_c
    arrives = mean_share(site, may.able, lambda feeder: arriving_share(feeder, standing, now_s, water_c))
    light_share = 0.0 if estimate.cover_closed else estimate.light_share
    flowing = habit.expected(utc)
    found: list[Hour] = []
    fed_before = list(allowed.fed_mg_l)
    for number in range(hours):
        at = utc + timedelta(hours=number)
        flows = flowing[at.hour] > 0.0
        free, sigma = exp(mean[CHLORINE]), stated_log_sigma(p[CHLORINE][CHLORINE])
        uv = light_share * sky[number]
        fed = 0.0
        if flows:
            loses = water(site, replace(estimate, mean=tuple(mean), sun_day_h=24.0 * uv), params)  # a day of this hour
            loss = (loses.demand_mg_l_day + loses.sun_loss_mg_l_day) / 24.0
            believed = water(site, replace(estimate, mean=tuple(mean)), params)
            as_now = habit.later(at.toordinal() - utc.toordinal())
            plan = planned(site, control, as_now, believed, bool(estimate.cover_closed), sky[number : number + 24], at)
            late = allowed.later_s is not None and number * 3600.0 >= allowed.later_s
            room = may.room_mg_l(at, fed_before, allowed.later_mg_l if late else None)
            # booked by the label, as control orders it: more of a product that brings less, while the limits count the label
            wanted = max(0.0, loss + (plan.aim_mg_l - free) / CATCHES_UP_H) / max(ARRIVES_LEAST, exp(mean[EFFECT]) * arrives)
            most = min(flowing[at.hour] * chlorine.hour_mg_l(USABLE_SHARE), allowed.hour_mg_l * USABLE_SHARE)
            fed = min(most, room, wanted if free > plan.fade_mg_l else max(wanted, may.steady_mg_l_h))
            chlorine.draw(fed)
        fed_before.append(fed)
        later_ph = acidity.after(ph, flows and acid.feeds)
        acid.draw(by_ph * (acidity.risen(ph) - later_ph))
        ph_sigma = sqrt(view.ph_sigma**2 + PH_SIGMA_A_DAY**2 * number / 24.0)
        low, high = free * exp(-Z90 * sigma), free * exp(Z90 * sigma)
        found.append(Hour(at, flows, free, low, high, fed, ph, ph_sigma, light_share, (*chlorine.empty, *acid.empty)))
        predict(mean, p, params, Spell(3600.0, uv, fed * arrives, water_c, min(9.0, max(6.0, ph))), depth_share)
        ph = later_ph
    return tuple(found)


def _stocks(site: Site, control: ControlParams, may: Feeding, allowed: Allowed, substance: Substance) -> Stocks:
    able = tuple(feeder for feeder in site.feeding(substance) if feeder in may.able)
    return Stocks.of(site, within(control, allowed), able, allowed.left_mg_l)


def _usual_acid_mg_l(standing: Standing) -> float:
    """Of a day, which makes up for what pH would rise with none; unknown until days have shown it: 0."""
    days = next((values for substance, values in standing.daily_use_mg_l if substance is Substance.ACID), ())
    return sorted(days)[len(days) // 2] if days else 0.0


def _acid_by_ph(site: Site, control: ControlParams, estimate: Estimate) -> float:
    """Acid that lowers pH by one, as the first tenth above the target takes it. [mg/L as CaCO3]"""
    return 10.0 * acid_wanted_mg_l(site, replace(water(site, estimate), ph=control.ph_target + 0.1), control.ph_target)


def _ph_in_air(site: Site, view: WaterView) -> float:
    """Where pH ends that nothing lowers: the water has then no more carbon dioxide to lose to the air."""
    return ph_at_air_equilibrium(
        max(LEAST_ALKALINITY_MG_L + 0.4 * view.cya_mg_l, view.alkalinity_mg_l),
        view.cya_mg_l,
        borate_b_mg_l=site.pool.borate_b_mg_l,
        temp_c=min(45.0, max(0.0, view.temp_c)),
        salt_g_l=site.pool.salt_g_l,
    )


@dataclass(frozen=True, slots=True)
class _Acidity:
    """How pH moves. rise_a_day : near the target, with no acid; end_ph : towards which it levels off"""

    rise_a_day: float
    top_ph: float
    end_ph: float

    def risen(self, ph: float) -> float:
        """An hour later with no acid: as much less above the usual pH as less is left to the end."""
        left = (self.end_ph - ph) / max(0.1, self.end_ph - self.top_ph)
        return ph + self.rise_a_day / 24.0 * min(1.0, max(0.0, left))

    def after(self, ph: float, feeds: bool) -> float:
        """An hour later, where an acid feeder `feeds` that takes back what is over its deadband."""
        ph = self.risen(ph)
        return ph - 0.5 * (ph - self.top_ph) if feeds and ph > self.top_ph else ph
