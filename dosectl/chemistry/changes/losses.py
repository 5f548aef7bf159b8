"""The day's chlorine: what the sun, the warmth and the bathers take, and what no loss explains.

Every rate constant of a pool is its own: the defaults give the size (2-3 mg/L on a clear midsummer day with CYA
30-50, common practice) and are there to be fitted to the pool's own log.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

from dosectl.chemistry import chlorine, decay, ranges
from dosectl.chemistry.ranges import Range

DAY_S = 86400.0


@dataclass(frozen=True, slots=True)
class Site:
    """What a pool's own log teaches.

    k_ring_per_s : Photolysis of chlorine on the ring at overhead sun; not published, an estimate of ours.
    demand_per_day : Share of free chlorine that warmth and organic matter take in the dark at 25 C.
    """

    depth_m: float = 1.5
    attenuation_per_m: float = 0.5
    shade: float = 1.0  # share of the light that reaches the pool
    k_ring_per_s: float = 2.0e-5
    demand_per_day: float = 0.15
    demand_per_10_c: float = decay.DEMAND_FACTOR_PER_10_C

    def __post_init__(self) -> None:
        ranges.DEPTH.check(self.depth_m)
        decay.ATTENUATION.check(self.attenuation_per_m)
        Range("shade", 0.0, 1.0, "", "give the share of light that reaches the pool").check(self.shade)
        Range("photolysis of the ring", 0.0, 1.0, "1/s").check(self.k_ring_per_s)
        Range("demand", 0.0, 50.0, "a day", "give a share, not percent").check(self.demand_per_day)
        Range("demand factor of 10 deg C", 0.5, 10.0, "").check(self.demand_per_10_c)


@dataclass(frozen=True, slots=True)
class Loss:
    """Free chlorine lost, by cause. [mg/L, or mg/L s for a rate]"""

    sun_free: float
    sun_ring: float
    demand: float
    bathers: float

    @property
    def total(self) -> float:
        """All causes together."""
        return self.sun_free + self.sun_ring + self.demand + self.bathers


def loss_rate_mg_l_s(
    free_chlorine_mg_l: float,
    cya_mg_l: float,
    ph: float,
    *,
    temp_c: float,
    uv: float,
    site: Site,
    bathers_g_h: float = 0.0,
    volume_m3: float = 50.0,
) -> Loss:
    """Rate of loss now. [mg/L s]. `uv` as `sunlight.clear_sky_uv` times cloud; `bathers_g_h` demand that bathers bring."""
    s = chlorine.speciate(free_chlorine_mg_l, cya_mg_l, ph)
    light = decay.depth_factor(site.depth_m, site.attenuation_per_m) * site.shade
    free = decay.photolysis_rate_mg_l_s(s.hocl_mg_l, s.ocl_mg_l, 0.0, uv, depth_share=light)
    ring = decay.photolysis_rate_mg_l_s(0.0, 0.0, s.bound_mg_l, uv, depth_share=light, k_ring_per_s=site.k_ring_per_s)
    warm = decay.demand_temperature_factor(temp_c, per_10_c=site.demand_per_10_c)
    bathers = Range("bather demand", 0.0, 1e4, "g/h").check(bathers_g_h) / ranges.VOLUME.check(volume_m3) / 3600.0
    return Loss(
        sun_free=free,
        sun_ring=ring,
        demand=site.demand_per_day * warm * free_chlorine_mg_l / DAY_S,
        bathers=bathers if free_chlorine_mg_l > 0.0 else 0.0,
    )


def curve_mg_l(
    free_chlorine_mg_l: float,
    cya_mg_l: float,
    ph: float,
    *,
    temp_c: float,
    uv: Sequence[float],
    step_s: float,
    site: Site,
) -> tuple[list[float], Loss]:
    """Free chlorine at the end of each step with nothing fed, and the loss by cause over all. `uv`: one value a step.

    Each step is first order in what stands at its start, so chlorine never falls below zero. Steps of 5 to 60
    minutes do.
    """
    Range("step", 1.0, DAY_S, "s").check(step_s)
    fc = ranges.FREE_CHLORINE.check(free_chlorine_mg_l)
    levels: list[float] = []
    sums = [0.0, 0.0, 0.0]
    for light in uv:
        rate = loss_rate_mg_l_s(fc, cya_mg_l, ph, temp_c=temp_c, uv=light, site=site)
        lost = -fc * math.expm1(-rate.total * step_s / fc) if fc > 0.0 and rate.total > 0.0 else 0.0
        for i, part in enumerate((rate.sun_free, rate.sun_ring, rate.demand)):
            sums[i] += lost * part / rate.total if rate.total > 0.0 else 0.0
        fc -= lost
        levels.append(fc)
    return levels, Loss(sums[0], sums[1], sums[2], 0.0)


def time_to_fall_s(levels_mg_l: Sequence[float], step_s: float, start_mg_l: float, target_mg_l: float) -> float | None:
    """When a curve of `curve_mg_l` first meets a lower target, straight lines between its steps. [s]; None: not within it."""
    ranges.FREE_CHLORINE.check(start_mg_l)
    ranges.FREE_CHLORINE.check(target_mg_l)
    if start_mg_l <= target_mg_l:
        return 0.0
    before = start_mg_l
    for i, level in enumerate(levels_mg_l):
        if level <= target_mg_l:
            return (i + (before - target_mg_l) / (before - level)) * step_s
        before = level
    return None


class Balance(StrEnum):
    """What a change of free chlorine between two tests says, against what was fed and is usually lost."""

    AS_EXPECTED = "within what feed, usual loss and test errors explain"
    LOSS_HIGH = "more was lost than usual: load, algae, combined chlorine, or less was fed than told"
    RISE_UNEXPLAINED = "more chlorine than was fed: a hand dose, a feeder that runs on, a leak, or a test gone wrong"


def judge_change(
    before_mg_l: float, after_mg_l: float, fed_mg_l: float, usual_loss_mg_l: float, *, sigma_mg_l: float
) -> tuple[Balance, float]:
    """Whether two tests fit, and the part that doesn't. [mg/L], positive for a surplus.

    `sigma_mg_l` is that of one test; the difference of two has 1.41 of it. A rise is unexplained when it passes
    what was fed with no loss at all by two standard deviations; a loss is high when it passes the usual one by as
    much and by half of it.
    """
    for value in (before_mg_l, after_mg_l, fed_mg_l, usual_loss_mg_l):
        ranges.FREE_CHLORINE.check(value)
    doubt = 2.0 * math.sqrt(2.0) * Range("test error", 0.01, 5.0, "mg/L").check(sigma_mg_l)
    surplus = after_mg_l - before_mg_l - fed_mg_l
    if surplus > doubt:
        return Balance.RISE_UNEXPLAINED, surplus
    unexplained = surplus + usual_loss_mg_l
    if -unexplained > max(doubt, 0.5 * usual_loss_mg_l):
        return Balance.LOSS_HIGH, unexplained
    return Balance.AS_EXPECTED, unexplained
