"""What the pool usually takes, and what a window still leaves: the figures that mass guards share."""

from functools import lru_cache

from dosectl.core.evidence import Evidence
from dosectl.model.feeds import Substance

DAYS_NEEDED = 14
USUAL_CHLORINE_MG_L = 2.5  # a day's use until 14 days are known (engineering judgement: an outdoor pool in summer)
RAISED_TIMES = 1.3  # of the usual use: what a pool that is known to take much may get in a day
DAY_S = 86400.0
HOUR_S = 3600.0


def days_known(evidence: Evidence, substance: Substance) -> tuple[float, ...]:
    """Use of the accepted days [mg/L], oldest first, at most 14."""
    for known, days in evidence.standing.daily_use_mg_l:
        if known is substance:
            return days
    return ()


def median_day_mg_l(evidence: Evidence, substance: Substance = Substance.CHLORINE) -> float:
    """Median daily use of the last 14 accepted days; the default until there are 14 [mg/L]."""
    return usual_of(days_known(evidence, substance))


def usual_of(days: tuple[float, ...]) -> float:
    """Usual use of a pool with these accepted days of chlorine [mg/L a day]."""
    return USUAL_CHLORINE_MG_L if len(days) < DAYS_NEEDED else _median(days)


def raised_day_mg_l(installed_mg_l: float, most_mg_l: float, days: tuple[float, ...]) -> float:
    """The daily limit of a pool with these accepted days: that of the installation, or 1.3 times a larger usual use. [mg/L]"""
    if len(days) < DAYS_NEEDED:
        return installed_mg_l
    return max(installed_mg_l, min(most_mg_l, RAISED_TIMES * _median(days)))


@lru_cache(maxsize=8)
def _median(days: tuple[float, ...]) -> float:
    """Pure, and asked for the same days at every step of a day."""
    ordered = sorted(days)
    middle = len(ordered) // 2
    return ordered[middle] if len(ordered) % 2 else 0.5 * (ordered[middle - 1] + ordered[middle])


def room_g(evidence: Evidence, substance: Substance, window_s: float, limit_mg_l: float) -> float:
    """Mass of a substance that a rolling window lets its feeders together book beyond what is booked [g], never below zero.

    Open reservations count in full; what is still undrawn of them may be fed besides.
    """
    booked_g = evidence.ledger.window_g(substance, evidence.clock_s, window_s)
    return max(0.0, limit_mg_l * evidence.site.pool.volume_m3 - booked_g)
