"""Feed-forward: what sun, demand and the coming pause will take, spread over the flow that is left.

Chlorine falls while the pump rests, so the aim climbs through a window of flow: from a little below the target to as far above it
as the coming pause will take. A trim that aimed at the target all day would see every morning as an error.

Where a pause eats most of the target (a bloom, heat and bathers), no rise within the band carries it: the pool would lie
dead each morning and algae would grow faster than the day kills them. Then the evening may stand above the band, well below the
upper limit, so that the morning finds chlorine.
"""

from dataclasses import dataclass, replace
from datetime import timedelta
from math import ceil, exp

from dosectl.chemistry.sunlight import clear_sky_uv, sun_elevation_deg
from dosectl.core.control.params import ControlParams
from dosectl.core.control.pulses import steady_g_s
from dosectl.core.control.state import ControlState
from dosectl.core.control.target import Target
from dosectl.core.estimate import WaterView
from dosectl.core.evidence import Evidence
from dosectl.core.site import Site
from dosectl.model.feeds import Substance
from dosectl.model.signals import SignalKind

WINDOW_H_MAX = 12.0  # further ahead is tomorrow's business
WINDOW_H_MIN = 0.5
EVEN_LIGHT = (1.0,) * 24
HORIZON_SHARE = 0.5  # looks ahead half the time in which losses would use up the target: hours without stabiliser, else a day
USABLE_SHARE = 0.85  # of the hours of flow: acid's turns and starts take the rest, a pump's waits besides; own judgement
RISE_SHARE_MAX = 0.22
EVENING_SHARE_MAX = 2.0  # of the target, where a pause eats that much; own judgement
MORNING_SHARE = 0.65  # of the target, that such an evening should leave after the pause; own judgement, see the guide
DIP_SHARE_MAX = 0.15  # the band reaches further up than down
SURE, DOUBT_RAISES, MIDDLE_MAX = 0.12, 0.3, 1.16  # a pool that runs low feeds algae, and then it is lost: doubt raises the aim
LIMIT_SIGMAS = 2.5  # of the estimate's own doubt that are kept below the limit above which nobody should swim; own judgement
MIDDLE = 1.06  # of the target: an error of a factor leaves the band upwards as late as downwards at sqrt(0.75 x 1.5)


@dataclass(frozen=True, slots=True)
class Plan:
    """What the coming hours ask for.

    aim_mg_l : free chlorine to have now; rate_mg_l_h : feed-forward
    window_h, pause_h : expected hours of flow left, and without it afterwards
    day_mg_l : expected loss of the coming 24 h
    fade_mg_l : above it nothing is fed
    pause_takes : share of what is there that the coming pause takes
    """

    aim_mg_l: float
    rate_mg_l_h: float
    window_h: float
    pause_h: float
    day_mg_l: float
    fade_mg_l: float
    pause_takes: float


def with_light(site: Site, state: ControlState, evidence: Evidence) -> ControlState:
    """The state with the light of the coming day looked up, once an hour."""
    if state.light and 0.0 <= evidence.clock_s - state.light_s < 3600.0:
        return state
    pool, utc = site.pool, evidence.now.utc
    light = tuple(
        clear_sky_uv(sun_elevation_deg(utc + timedelta(hours=h + 0.5), pool.latitude_deg, pool.longitude_deg)) for h in range(24)
    )
    return replace(state, light=light, light_s=evidence.clock_s)


def plan(state: ControlState, water: WaterView, goal: Target, evidence: Evidence) -> Plan:
    """Aim and feed-forward of this moment. `state` with its light looked up."""
    # With the wall clock in doubt nobody knows the hour: flow is taken to go on, sun to be spread over the day.
    trusted = evidence.health.clock_trusted
    left_h, pause_h = state.habit.ahead(evidence.now.utc) if trusted else (24.0, 0.0)
    light = state.light if trusted else EVEN_LIGHT
    window_h = min(WINDOW_H_MAX, max(WINDOW_H_MIN, left_h))
    cover = evidence.reading(SignalKind.COVER)
    covered = cover is not None and cover.switch() is True
    # Sun takes a share of what is there, so the loss to cover is that at the target, not that of a pool found empty.
    share = min(3.0, max(0.5, goal.mg_l / water.free_chlorine_mg_l))
    sun_day = 0.0 if covered else water.sun_loss_mg_l_day * share
    demand_day = water.demand_mg_l_day * (0.5 + 0.5 * share)
    near_h = min(window_h, max(WINDOW_H_MIN, HORIZON_SHARE * goal.mg_l * 24.0 / max(0.1, demand_day + sun_day)))
    in_window = _loss(light, demand_day, sun_day, 0.0, near_h)
    in_pause = _loss(light, demand_day, sun_day, left_h, left_h + pause_h) if pause_h > 0.0 else 0.0
    unsure = max(0.0, water.sigma_mg_l / water.free_chlorine_mg_l - SURE)
    safe_mg_l = goal.limit_mg_l * exp(-LIMIT_SIGMAS * max(SURE, water.sigma_mg_l / water.free_chlorine_mg_l))
    top = max(goal.mg_l, min(0.9 * goal.high_mg_l, safe_mg_l))
    middle = min(top, goal.mg_l * min(MIDDLE_MAX, MIDDLE + DOUBT_RAISES * unsure))
    low = min(0.5 * in_pause, DIP_SHARE_MAX * goal.mg_l)
    high = min(in_pause - low, RISE_SHARE_MAX * goal.mg_l, max(0.0, top - middle))
    evening = min(safe_mg_l, EVENING_SHARE_MAX * goal.mg_l, _before(in_pause, 0.5 * demand_day * pause_h / 24.0, goal.mg_l))
    high = max(high, evening - middle)
    flow_h = max(WINDOW_H_MIN, 24.0 - pause_h)
    aim = middle + high - (high + low) * min(1.0, left_h / flow_h) if pause_h > 0.0 else middle
    rate = (in_window / near_h + (high + low) / flow_h) / _part(state, evidence)
    takes = 1.0 - exp(-in_pause / goal.mg_l)
    return Plan(aim, rate, window_h, pause_h, demand_day + sun_day, max(goal.fade_mg_l, aim), takes)


def _part(state: ControlState, evidence: Evidence) -> float:
    """Share of this hour in which water will have flowed: what goes in all of the time is fed in that much of it.

    A run that is already longer than those that were learnt is another one, as where somebody lets the pump run on.
    """
    since_s = evidence.flow.since_s
    if not evidence.health.clock_trusted or since_s is None:
        return 1.0
    return min(1.0, max(state.habit.part(evidence.now.utc), (evidence.clock_s - since_s) / 3600.0))


def flow_wanted_h(site: Site, params: ControlParams, day_mg_l: float, arrives_g_s: float | None = None) -> float:
    """Hours of flow, in halves, in which the water turns over and the chlorine feeders carry a day's loss. [h]

    arrives_g_s : what reaches the water of those that may feed, a pump's waits counted [g/s]; None, and 0 where none may:
    what all are said to give
    """
    chlorine = (feeder for feeder in site.feeders if feeder.substance is Substance.CHLORINE)
    said_g_s = sum(steady_g_s(params, feeder, site.pool.volume_m3) for feeder in chlorine)
    rate_g_h = (arrives_g_s or said_g_s) * 3600.0
    carried_h = day_mg_l * site.pool.volume_m3 / (rate_g_h * USABLE_SHARE) if rate_g_h > 0.0 else 0.0
    return min(24.0, ceil(2.0 * max(site.pool.turnover_h, carried_h)) / 2.0)


def _before(takes_mg_l: float, fixed_mg_l: float, goal_mg_l: float) -> float:
    """What has to be there before a pause, so that the least is left that an evening should leave. [mg/L]

    takes_mg_l : what the pause takes at the target; fixed_mg_l : of it, what is eaten whatever is there. The rest follows the
        chlorine: x' = -a x - b has x(0) = (x(1) + b/a) exp(a) - b/a.
    """
    a = min(20.0, max(1e-3, (takes_mg_l - fixed_mg_l) / goal_mg_l))  # more is cut by what is safe, and no number holds it
    rest = fixed_mg_l / a
    return (MORNING_SHARE * goal_mg_l + rest) * exp(a) - rest


def _loss(light: tuple[float, ...], demand_day: float, sun_day: float, from_h: float, to_h: float) -> float:
    """Loss between two times from now. [mg/L]"""
    whole = sum(light)
    if whole <= 0.0 or sun_day <= 0.0:
        return demand_day * (to_h - from_h) / 24.0
    lit = 0.0
    hour = int(from_h)
    while hour < to_h:
        lit += light[hour % 24] * (min(to_h, hour + 1.0) - max(from_h, float(hour)))
        hour += 1
    return demand_day * (to_h - from_h) / 24.0 + sun_day * lit / whole
