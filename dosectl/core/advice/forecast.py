"""What free chlorine and pH will be over the next days under the plan, and whether the feeder is large enough for July.

The estimate's own model of the water is run on, hour by hour, under a plain picture of the plan: in the hours in which water
usually flows chlorine is fed towards the target, as far as the feeders can and the day's limit lets them. Doubt grows with the
time; what nobody can foresee (a party, a storm) is in it only as far as the estimate's noise holds it.
"""

from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from math import exp, log, sqrt

from dosectl.chemistry import decay
from dosectl.chemistry.sunlight import clear_sky_uv, sun_elevation_deg
from dosectl.core.control.acid import acid_wanted_mg_l
from dosectl.core.control.demand import MIDDLE, USABLE_SHARE
from dosectl.core.control.habit import FlowHabit
from dosectl.core.control.params import ControlParams
from dosectl.core.control.target import target_mg_l
from dosectl.core.estimate.chlorine import Spell, demand_mg_l_day, predict
from dosectl.core.estimate.filters import rows_of
from dosectl.core.estimate.params import EstimateParams
from dosectl.core.estimate.state import CHLORINE, DEMAND, EFFECT, SUN, Estimate
from dosectl.core.estimate.view import water
from dosectl.core.evidence import Standing
from dosectl.core.site import Pool, Site
from dosectl.model.feeds import Substance

__all__ = ["Allowed", "Enough", "Hour", "ahead", "enough"]

Z90 = 1.6449
CATCHES_UP_H = 3.0
HOURS_MAX = 14 * 24
PH_SIGMA_A_DAY = 0.03  # own judgement
HOT_C = 29.0  # water of a hot July; a pool evaporates what would warm it further


@dataclass(frozen=True, slots=True)
class Allowed:
    """What the interlocks let be fed, as set at the installation; by usual use they may let less. [mg/L a day, mg/L an hour]"""

    day_mg_l: float = 5.0
    hour_mg_l: float = 1.0


@dataclass(frozen=True, slots=True)
class Hour:
    """One hour ahead.

    low_mg_l, high_mg_l : bounds of free chlorine that hold with 90 %; fed_mg_l : fed in this hour, by the label
    """

    utc: datetime
    flows: bool
    free_chlorine_mg_l: float
    low_mg_l: float
    high_mg_l: float
    fed_mg_l: float
    ph: float
    ph_sigma: float


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
    aim = MIDDLE * target_mg_l(site, control, view)
    most = min(capacity_mg_l_h(site), allowed.hour_mg_l)
    ph, rise = view.ph, _ph_rise_a_day(site, control, estimate, standing)
    found: list[Hour] = []
    fed_before: list[float] = []
    for number in range(hours):
        at = utc + timedelta(hours=number)
        flows = habit.flows(at.hour)
        free, sigma = exp(mean[CHLORINE]), sqrt(p[CHLORINE][CHLORINE])
        uv = _uv(site.pool, at + timedelta(minutes=30))
        fed = 0.0
        if flows:
            now = replace(estimate, mean=tuple(mean))
            loses = water(site, now, params)
            loss = (loses.demand_mg_l_day + loses.sun_loss_mg_l_day * 24.0 * uv / max(0.1, estimate.sun_day_h)) / 24.0
            room = max(0.0, allowed.day_mg_l - sum(fed_before[-23:]))
            # booked by the label, as control orders it: more of a product that brings less, while the limits count the label
            fed = min(most * USABLE_SHARE, room, max(0.0, loss + (aim - free) / CATCHES_UP_H) / exp(mean[EFFECT]))
        fed_before.append(fed)
        ph_sigma = sqrt(view.ph_sigma**2 + PH_SIGMA_A_DAY**2 * number / 24.0)
        low, high = free * exp(-Z90 * sigma), free * exp(Z90 * sigma)
        found.append(Hour(at, flows, free, low, high, fed, ph, ph_sigma))
        predict(mean, p, params, Spell(3600.0, uv, fed, estimate.temp_c, min(9.0, max(6.0, ph))), depth_share)
        ph = _ph_after(site, control, ph, rise, flows)
    return tuple(found)


def capacity_mg_l_h(site: Site) -> float:
    """What all chlorine feeders give together by their settings. [mg/L/h]"""
    rate_g_s = sum(feeder.rate_g_s for feeder in site.feeders if feeder.substance is Substance.CHLORINE)
    return rate_g_s * 3600.0 / site.pool.volume_m3


def _uv(pool: Pool, utc: datetime) -> float:
    return clear_sky_uv(sun_elevation_deg(utc, pool.latitude_deg, pool.longitude_deg))


def _ph_rise_a_day(site: Site, control: ControlParams, estimate: Estimate, standing: Standing) -> float:
    """How fast pH would rise with no acid: what the usual acid of a day makes up for; unknown until days have shown it: 0."""
    days = next((values for substance, values in standing.daily_use_mg_l if substance is Substance.ACID), ())
    if not days:
        return 0.0
    usual = sorted(days)[len(days) // 2]
    tenth = acid_wanted_mg_l(site, replace(water(site, estimate), ph=control.ph_target + 0.1), control.ph_target)
    return 0.1 * usual / tenth if tenth > 0.0 else 0.0


def _ph_after(site: Site, control: ControlParams, ph: float, rise_a_day: float, flows: bool) -> float:
    """An hour later: it rises, and the acid feeder takes back what is over its deadband while water flows."""
    ph += rise_a_day / 24.0
    feeds = flows and any(feeder.substance is Substance.ACID for feeder in site.feeders)
    top = control.ph_target + control.ph_deadband
    return ph - 0.5 * (ph - top) if feeds and ph > top else ph


@dataclass(frozen=True, slots=True)
class Enough:
    """A clear, hot July day of this pool against what its feeders can give in its hours of flow.

    loss_mg_l, loss_low_mg_l, loss_high_mg_l : of the day at the target, with 90 % bounds
    gives_mg_l, gives_low_mg_l, gives_high_mg_l : the feeders in a day's flow, likewise
    night_mg_l : what goes in the longest pause; hours_needed : of flow, for the loss as expected
    limit_mg_l : what the interlock lets be fed in a day
    """

    target_mg_l: float
    temp_c: float
    flow_h: float
    loss_mg_l: float
    loss_low_mg_l: float
    loss_high_mg_l: float
    gives_mg_l: float
    gives_low_mg_l: float
    gives_high_mg_l: float
    night_mg_l: float
    hours_needed: float
    limit_mg_l: float

    @property
    def verdict(self) -> str:
        """ "enough", "may not be enough" (within the doubt) or "not enough"."""
        most = min(self.limit_mg_l, self.gives_mg_l)
        if most < self.loss_mg_l:
            return "not enough"
        return "enough" if min(self.limit_mg_l, self.gives_low_mg_l) >= self.loss_high_mg_l else "may not be enough"


def enough(
    site: Site,
    params: EstimateParams,
    control: ControlParams,
    estimate: Estimate,
    habit: FlowHabit,
    year: int,
    allowed: Allowed,
    temp_c: float = HOT_C,
    flow_h: float | None = None,
) -> Enough:
    """Whether the feeders carry this pool through high summer. `flow_h` None takes the hours that water usually flows.

    Raises ValueError for a temperature outside 5 to 40 C or hours outside 0 to 24.
    """
    if not 5.0 <= temp_c <= 40.0:
        raise ValueError(f"temperature = {temp_c:g} °C: accepted is 5 to 40")
    hours = habit.daily_h if flow_h is None else flow_h
    if not 0.0 < hours <= 24.0:
        raise ValueError(f"hours of flow = {hours:g}: accepted is more than 0 and at most 24")
    pool = site.pool
    month = 7 if pool.latitude_deg >= 0.0 else 1
    noon = datetime(year, month, 15, tzinfo=UTC)
    light_h = sum(_uv(pool, noon + timedelta(hours=h + 0.5)) for h in range(24))
    view = water(site, estimate, params)
    goal = target_mg_l(site, control, view)
    mean = list(estimate.mean)
    mean[CHLORINE] = log(goal)
    there = replace(estimate, mean=tuple(mean), temp_c=temp_c, sun_day_h=light_h)
    demand = demand_mg_l_day(mean, temp_c)
    sun = water(site, there, params).sun_loss_mg_l_day
    p = rows_of(estimate.cov)
    spread = sqrt(demand * demand * p[DEMAND][DEMAND] + sun * sun * p[SUN][SUN] + 2 * demand * sun * p[DEMAND][SUN]) / (
        demand + sun
    )
    gives = min(capacity_mg_l_h(site), allowed.hour_mg_l) * USABLE_SHARE * hours * exp(mean[EFFECT])
    doubt = sqrt(p[EFFECT][EFFECT])
    loss = demand + sun
    return Enough(
        target_mg_l=goal,
        temp_c=temp_c,
        flow_h=hours,
        loss_mg_l=loss,
        loss_low_mg_l=loss * exp(-Z90 * spread),
        loss_high_mg_l=loss * exp(Z90 * spread),
        gives_mg_l=gives,
        gives_low_mg_l=gives * exp(-Z90 * doubt),
        gives_high_mg_l=gives * exp(Z90 * doubt),
        night_mg_l=demand * (24.0 - hours) / 24.0,
        hours_needed=hours * loss / gives if gives > 0.0 else float("inf"),
        limit_mg_l=allowed.day_mg_l,
    )
