"""When the probe goes on reading other than foretold, it is the foretelling that yields.

Electrodes drift over weeks; a bloom, a party or a forgotten tablet changes the chlorine within hours. So a reading that for
hours lies off to one side is taken for a change of the water: its loss is no longer the one that was learnt, and the doubt of
chlorine and demand grows until the readings are met. Without this a pool that algae eat empty is believed well for days, as its
mean error is shared out evenly between water and electrode.
"""

from dosectl.core.estimate.filters import Rows
from dosectl.core.estimate.state import CHLORINE, DEMAND

OVER_S = 2 * 3600.0
FROM = (
    0.8  # standard deviations of the mean over those hours: by chance it is rarely passed, as errors of an hour are known to stay
)
CHLORINE_PER_DAY, DEMAND_PER_DAY = 1.5, 1.5  # variance a day for each standard deviation beyond


def after_reading(surprise: float, off: float, span_s: float) -> float:
    """The mean with one more reading that lay `off` standard deviations away and stands for `span_s`."""
    share = span_s / (span_s + OVER_S)
    return surprise + share * (min(4.0, max(-4.0, off)) - surprise)


def yielding(surprise: float, span_s: float) -> tuple[float, float]:
    """By how much the variances grow, of chlorine, and of demand where less is found than foretold."""
    beyond = max(0.0, abs(surprise) - FROM) * span_s / 86400.0
    return CHLORINE_PER_DAY * beyond, (DEMAND_PER_DAY * beyond if surprise < 0.0 else 0.0)


def widen(p: Rows, by: tuple[float, float], share: float = 1.0) -> None:
    """In place, by what `yielding` says."""
    p[CHLORINE][CHLORINE] += share * by[0]
    p[DEMAND][DEMAND] += share * by[1]
