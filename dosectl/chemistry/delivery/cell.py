"""Electrolytic chlorinators: chlorine from the pool's own salt."""

from dosectl.chemistry import ranges
from dosectl.chemistry.cyanurate import CL2_G_MOL
from dosectl.chemistry.electrodes import F_C_MOL
from dosectl.chemistry.ranges import Range

OUTPUT = Range("chlorinator output", 0.0, 2000.0, "g/h")
FARADAY_G_AH = CL2_G_MOL * 3600.0 / (2.0 * F_C_MOL)  # 1.3228 g of chlorine per ampere hour and gap
HYDROGEN_L_PER_G_CL2 = 0.339  # at 20 C: a cell without flow fills with gas


def chlorinator_rate_g_s(output_g_h: float, level: float) -> float:
    """Chlorine made. [g/s as Cl2]. `output_g_h` is that measured at level 1; `level` 0..1 of it."""
    return OUTPUT.check(output_g_h) * ranges.LEVEL.check(level) / 3600.0


def faraday_rate_g_h(current_a: float, gaps_in_series: int = 1, efficiency: float = 1.0) -> float:
    """Most chlorine that a current can make; a name plate above it is wrong. [g/h]. Source: Faraday's law.

    `efficiency` is that of the current, 0..1; home cells run at some 0.6-0.9 (common practice).
    """
    Range("cell current", 0.0, 1000.0, "A").check(current_a)
    Range("gaps in series", 1, 100, "").check(gaps_in_series)
    Range("current efficiency", 0.0, 1.0, "", "give a share, not percent").check(efficiency)
    return FARADAY_G_AH * current_a * gaps_in_series * efficiency


def hydrogen_l_h(output_g_h: float) -> float:
    """Hydrogen made beside the chlorine, at 20 C. [L/h]. 20 g/h of chlorine come with 6.8 L/h."""
    return OUTPUT.check(output_g_h) * HYDROGEN_L_PER_G_CL2


def temperature_factor(temp_c: float, cold_limit_c: float = 15.0, stop_c: float = 10.0) -> float:
    """Share of nominal output that is left in cold water: 1 above the limit, 0 at the stop, straight between.

    Common practice: most cells limit or stop themselves below about 15 C; their labels differ.
    """
    if not stop_c < cold_limit_c:
        raise ValueError(f"cold limit = {cold_limit_c!r} deg C: accepted is above the stop, {stop_c!r} deg C")
    t = ranges.TEMPERATURE.check(temp_c)
    return min(1.0, max(0.0, (t - stop_c) / (cold_limit_c - stop_c)))
