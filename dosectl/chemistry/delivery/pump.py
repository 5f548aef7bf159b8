"""Metering pumps: hypochlorite and acid from a container, run by relay or metered by percentage."""

from dosectl.chemistry import ranges
from dosectl.chemistry.buffering import MG_CACO3_PER_EQ
from dosectl.chemistry.ranges import Range

RATE = Range("pump rate", 0.0, 5000.0, "mL/min")
ACID = Range("acid strength", 0.0, 40.0, "meq/mL", "31 % hydrochloric acid is 10")
RUN = Range("run time", 0.0, 86400.0 * 7, "s")


def pump_rate_g_s(rate_ml_min: float, strength_g_l: float, level: float = 1.0) -> float:
    """Active substance fed. [g/s]. Chlorine strength in g/L as Cl2, today's value (see `decay`), `level` 0..1."""
    return RATE.check(rate_ml_min) * ranges.STRENGTH_G_L.check(strength_g_l) * ranges.LEVEL.check(level) / 60_000.0


def acid_rate_g_s(rate_ml_min: float, acid_meq_ml: float, level: float = 1.0) -> float:
    """Alkalinity taken away. [g CaCO3/s]. 1 meq takes 0.0500 g. Strength from `products.acid_meq_ml`."""
    meq_s = RATE.check(rate_ml_min) * ACID.check(acid_meq_ml) * ranges.LEVEL.check(level) / 60.0
    return meq_s * MG_CACO3_PER_EQ * 1e-6


def mass_fed_g(run_s: float, rate_ml_min: float, strength_g_l: float) -> float:
    """Mass of active substance that a pump moved while it ran. [g]

    Assumes a primed line and the rate of the last drawdown test; ignores run-up and wear. `run_s` is the time the
    feedback showed it running, not the time it was asked to. Check: 10 s, 50 mL/min, 125 g/L give 1.042 g.
    """
    return RUN.check(run_s) * pump_rate_g_s(rate_ml_min, strength_g_l)
