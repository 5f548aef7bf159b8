"""Rain, fill water, replacement and evaporation: what water itself does to what is dissolved in it."""

import math

from dosectl.chemistry import ranges
from dosectl.chemistry.ranges import Range

CONCENTRATION = Range("concentration", 0.0, 1e6, "mg/L")
ADDED = Range("water added", 0.0, 1e5, "m3")
HEIGHT = Range("height of water", 0.0, 2000.0, "mm")
AIR_SPEED = Range("air speed", 0.0, 60.0, "m/s")
HUMIDITY = Range("relative humidity", 0.0, 1.0, "", "give a share, not percent")
QUIET_POOL = 0.74  # of the formula, measured at pools nobody swims in. Source: Smith, Lof & Jones (1998), ASHRAE Trans. 104


def after_inflow_mg_l(concentration_mg_l: float, inflow_m3: float, volume_m3: float, inflow_mg_l: float = 0.0) -> float:
    """Concentration after water came in and as much flowed over, mixed all the while. [mg/L]

    c = cin + (c - cin) exp(-R/V). Replacement by running a hose into a full pool is the same.
    """
    c, cin = CONCENTRATION.check(concentration_mg_l), CONCENTRATION.check(inflow_mg_l)
    return cin + (c - cin) * math.exp(-ADDED.check(inflow_m3) / ranges.VOLUME.check(volume_m3))


def after_refill_mg_l(concentration_mg_l: float, drained_m3: float, volume_m3: float, fill_mg_l: float = 0.0) -> float:
    """Concentration after draining first and filling then. [mg/L]. It takes less water than an overflow."""
    volume = ranges.VOLUME.check(volume_m3)
    share = Range("water drained", 0.0, volume, "m3", "no more than the pool holds").check(drained_m3) / volume
    return (1.0 - share) * CONCENTRATION.check(concentration_mg_l) + share * CONCENTRATION.check(fill_mg_l)


def after_evaporation_mg_l(concentration_mg_l: float, lost_m3: float, volume_m3: float, fill_mg_l: float = 0.0) -> float:
    """Concentration once evaporated water has been filled up with fill water. [mg/L]. Salt and hardness climb this way."""
    volume = ranges.VOLUME.check(volume_m3)
    lost = Range("water evaporated", 0.0, volume, "m3").check(lost_m3)
    return CONCENTRATION.check(concentration_mg_l) + CONCENTRATION.check(fill_mg_l) * lost / volume


def water_to_replace_m3(
    concentration_mg_l: float, target_mg_l: float, volume_m3: float, fill_mg_l: float = 0.0, *, overflow: bool = False
) -> float:
    """Least water to replace to come down (or up) to a target. [m3]; `overflow` when it is let in at the full pool.

    Raises ValueError when the fill water can't bring it there.
    """
    c, target, fill = (CONCENTRATION.check(x) for x in (concentration_mg_l, target_mg_l, fill_mg_l))
    volume = ranges.VOLUME.check(volume_m3)
    if c == target:
        return 0.0
    left = (target - fill) / (c - fill) if c != fill else 2.0
    if not 0.0 <= left <= 1.0 or (overflow and left == 0.0):
        raise ValueError(
            f"target = {target:g} mg/L from {c:g} mg/L with fill water of {fill:g} mg/L: accepted is between pool and fill water"
        )
    return -volume * math.log(left) if overflow else volume * (1.0 - left)


def rain_share(rain_mm: float, mean_depth_m: float, *, overflow: bool = True) -> float:
    """What is left of every concentration after rain, as a share. 50 mm on 1.5 m: 0.967.

    Rain brings no alkalinity and a pH near 5.6; without overflow the level rises instead.
    """
    ratio = HEIGHT.check(rain_mm) / 1000.0 / ranges.DEPTH.check(mean_depth_m)
    return math.exp(-ratio) if overflow else 1.0 / (1.0 + ratio)


def saturation_pressure_kpa(temp_c: float) -> float:
    """Vapour pressure over water: 0.6112 exp(17.62 t/(243.12 + t)). [kPa]. Source: Magnus form of the WMO, from memory."""
    t = Range("temperature", -20.0, 60.0, "deg C").check(temp_c)
    return 0.6112 * math.exp(17.62 * t / (243.12 + t))


def evaporation_mm_day(water_c: float, air_c: float, humidity: float, air_m_s: float, *, share: float = QUIET_POOL) -> float:
    """Evaporation of an open pool. [mm/day], never negative.

    (0.089 + 0.0782 v)(pw - pa)/Y in kg/m2 s, kPa and kJ/kg, times 0.74 measured at quiet pools; bathers add a
    quarter. Source: Smith, Lof & Jones (1998), ASHRAE Trans. 104.
    """
    latent_kj_kg = 2501.0 - 2.36 * ranges.TEMPERATURE.check(water_c)
    drive = saturation_pressure_kpa(water_c) - HUMIDITY.check(humidity) * saturation_pressure_kpa(air_c)
    flux = (0.089 + 0.0782 * AIR_SPEED.check(air_m_s)) * max(0.0, drive) / latent_kj_kg
    return flux * 86400.0 * Range("share of the formula", 0.0, 2.0, "").check(share)
