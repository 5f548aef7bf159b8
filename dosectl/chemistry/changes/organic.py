"""Organic matter that eats chlorine: a load that comes at once, and algae that grow.

No published rate for pools was found for either. The forms are textbook (a second-order reaction; growth that is
exponential and slowed by chlorine); the defaults are estimates of ours for size, to be fitted, and no limit may
rest on them.
"""

import math

from dosectl.chemistry import decay, ranges
from dosectl.chemistry.ranges import Range

REACTION_L_MG_H = 0.3  # estimate: at 3 mg/L half of a fresh load is gone in 45 min
ALGAE_PER_DAY = 1.0  # estimate: growth at 25 C in full light, a doubling in 17 h
ALGAE_KILL_PER_DAY_MG_L = 100.0  # estimate: 0.01 mg/L of HOCl just holds full growth
LOAD = Range("oxidisable load", 0.0, 500.0, "mg/L", "give what it eats, as Cl2")
TIME_H = Range("time", 0.0, 1e4, "h")


def reacted(
    free_chlorine_mg_l: float, load_mg_l: float, hours: float, *, temp_c: float = 25.0, rate_l_mg_h: float = REACTION_L_MG_H
) -> tuple[float, float]:
    """Free chlorine and load that are left after a while, none fed. [mg/L as Cl2 both]

    d/dt = -k free x load, solved in closed form: what one loses the other loses, and two halves of the time are the
    whole.
    """
    free, load = ranges.FREE_CHLORINE.check(free_chlorine_mg_l), LOAD.check(load_mg_l)
    k = Range("reaction rate", 0.0, 1e3, "L/mg h").check(rate_l_mg_h) * decay.demand_temperature_factor(temp_c)
    kt = k * TIME_H.check(hours)
    more, less = max(free, load), min(free, load)
    excess = more - less
    if excess * kt < 1e-9:
        gone = less * less * kt / (1.0 + less * kt)
    else:
        # Share of the smaller that is left: excess e^-xkt / (more - less e^-xkt); written so that nothing overflows.
        faded = math.exp(-excess * kt)
        gone = less * (1.0 - excess * faded / (more - less * faded))
    return free - gone, load - gone


def shock_mg_l(load_mg_l: float, end_mg_l: float) -> float:
    """Least free chlorine that outlasts a load and still stands at `end_mg_l` once it is gone. [mg/L]"""
    return LOAD.check(load_mg_l) + ranges.FREE_CHLORINE.check(end_mg_l)


def overnight_load_mg_l_h(evening_mg_l: float, morning_mg_l: float, hours: float) -> float:
    """Chlorine lost in the dark with nothing fed: organic demand, since there was no sun. [mg/L h]

    Under 1 mg/L a night with free chlorine held is a clean pool (common practice).
    """
    evening, morning = ranges.FREE_CHLORINE.check(evening_mg_l), ranges.FREE_CHLORINE.check(morning_mg_l)
    return (evening - morning) / Range("time", 1.0, 48.0, "h").check(hours)


def algae_growth_per_day(hocl_mg_l: float, temp_c: float, light: float) -> float:
    """Net growth of algae. [1/day], negative when chlorine wins. `light` 0..1 of full sun, mean of the day.

    Growth doubles with 10 C; HOCl, not free chlorine, holds it back, so a pool with much stabiliser grows green at
    a free chlorine that would do elsewhere.
    """
    grows = ALGAE_PER_DAY * decay.demand_temperature_factor(temp_c) * decay.UV_SHARE.check(light)
    return grows - ALGAE_KILL_PER_DAY_MG_L * ranges.HOCL.check(hocl_mg_l)
