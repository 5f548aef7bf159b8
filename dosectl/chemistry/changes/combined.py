"""Combined chlorine: what it is, what takes it away, and how much free chlorine that costs.

Combined is total less free, so it carries the errors of two tests: below 0.2 mg/L it can't be told from nothing.
"""

import math
from enum import StrEnum

from dosectl.chemistry import ranges
from dosectl.chemistry.cyanurate import CL2_G_MOL
from dosectl.chemistry.ranges import Range

NITROGEN_G_MOL = 14.007
ACTION_MG_L = 0.4  # US model code, from memory; DIN 19643 has 0.2
BREAKPOINT_THEORY = 1.5 * CL2_G_MOL / NITROGEN_G_MOL  # 7.6 by mass: 3 Cl2 to 2 NH3
BREAKPOINT_PRACTICE = (10.0, 15.0)  # by mass; handbook
MONOCHLORAMINE_DEMAND = 0.5  # 2 NH2Cl + HOCl -> N2 + 3 HCl + H2O, mg free per mg combined as Cl2
NITROGEN = Range("ammonia nitrogen", 0.0, 100.0, "mg/L", "give mg/L as N")


def combined_chlorine_mg_l(total_mg_l: float, free_mg_l: float) -> float:
    """Total less free. [mg/L as Cl2]. Raises ValueError when free is above total by more than a test's error of 0.2."""
    total, free = ranges.FREE_CHLORINE.check(total_mg_l), ranges.FREE_CHLORINE.check(free_mg_l)
    if free > total + max(0.2, 0.1 * total):
        raise ValueError(
            f"free chlorine = {free:g} mg/L above total = {total:g} mg/L: accepted is at most the total; repeat both tests "
            "in fresh samples, free first"
        )
    return max(0.0, total - free)


def ammonia_breakpoint_mg_l(nitrogen_mg_l: float) -> tuple[float, float, float]:
    """Free chlorine that breaks ammonia down: theory 7.6 times its nitrogen, practice 10 to 15 times. [mg/L as Cl2]"""
    n = NITROGEN.check(nitrogen_mg_l)
    return BREAKPOINT_THEORY * n, BREAKPOINT_PRACTICE[0] * n, BREAKPOINT_PRACTICE[1] * n


def chloramine_demand_mg_l(combined_mg_l: float) -> float:
    """Least free chlorine that breaks down combined chlorine, were all of it monochloramine. [mg/L as Cl2]

    "Ten times the combined" is a rule for ammonia told as nitrogen, not for combined told as Cl2. Organic
    chloramines take more, an unknown amount, and some do not go at all: a high level held for long, sunlight and
    fresh water do it.
    """
    return MONOCHLORAMINE_DEMAND * ranges.FREE_CHLORINE.check(combined_mg_l)


def bather_nitrogen_g(bathers: float, urine_ml: float = 50.0, urea_nitrogen_g_l: float = 9.0) -> float:
    """Nitrogen that bathers leave, mostly as urea. [g]

    Urine of 25-80 mL a bather: WHO (2006), from memory; nitrogen in urine: textbook, from memory. Urea reacts
    within hours to days, so a quick breakpoint doesn't remove it.
    """
    n = Range("bathers", 0.0, 1000.0, "").check(bathers)
    return n * Range("urine", 0.0, 500.0, "mL").check(urine_ml) / 1000.0 * urea_nitrogen_g_l


def after_decay_mg_l(combined_mg_l: float, hours: float, half_life_h: float) -> float:
    """Combined chlorine that is left after a while in the open, none new made. [mg/L]

    The half-life is a site figure: hours in full sun, days indoors (common practice); there is no default to trust.
    """
    c = ranges.FREE_CHLORINE.check(combined_mg_l)
    t = Range("time", 0.0, 1e4, "h").check(hours)
    return c * math.exp(-math.log(2.0) * t / Range("half-life", 0.1, 1e4, "h").check(half_life_h))


class Combined(StrEnum):
    """What a level of combined chlorine means."""

    UNCERTAIN = "below what two tests can tell from nothing"
    LOW = "low"
    RAISED = "raised: ventilate, look for load, renew water"
    HIGH = "high: act"


def judge(combined_mg_l: float) -> Combined:
    """Bands at 0.2 (DIN 19643, and the error of the difference of two tests), 0.4 (action) and 1.0 mg/L (common practice)."""
    c = ranges.FREE_CHLORINE.check(combined_mg_l)
    if c < 0.2:
        return Combined.UNCERTAIN
    if c <= ACTION_MG_L:
        return Combined.LOW
    return Combined.RAISED if c <= 1.0 else Combined.HIGH
