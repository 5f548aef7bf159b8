"""When a water test by hand is worth the walk: when what it would tell is likely to change what is fed.

Free chlorine keeps its band as long as it is off its middle by less than a factor of sqrt(1.5 / 0.75); pH from 7.2 to 7.8, as
long as it is off by less than 0.3. A doubt of one standard deviation s, taken as normal, puts the water out of a band of half
width w for erfc(w / (s sqrt 2)) of the hours, and a test of error t leaves the doubt 1 / sqrt(1 / s^2 + 1 / t^2). What lies
between the two is what the test buys. The error is that of the kit with which the newest test was taken.
"""

from math import erfc, isfinite, log, sqrt

from dosectl.core.alarms.conditions import because, settled
from dosectl.core.alarms.row import Finding, Looking
from dosectl.model.water_tests import Quantity

DAY_S = 86400.0
HALF_BAND_LN = 0.5 * log(1.5 / 0.75)
HALF_BAND_PH = 0.3
TEST_LN, TEST_PH = 0.12, 0.12  # drops on some 3 mg/L, and on pH, where no test tells of the owner's kit; own judgement
SIGMA_MIN, SIGMA_MAX = 1e-6, 1e3
WORTH, WORTH_STANDING = 0.10, 0.05  # of the hours: a walk for less is a walk for nothing; own judgement
NONE_MG_L = 1e-6
REST_S = 2 * DAY_S  # a test that left the doubt as it was is not asked for again the next day


def bought(sigma: float, half_band: float, test_sigma: float) -> tuple[float, float]:
    """Share of the hours out of the band by doubt alone now, and once it has been tested. [0 to 1]"""
    sigma = min(SIGMA_MAX, max(SIGMA_MIN, sigma)) if isfinite(sigma) else SIGMA_MAX
    left = 1.0 / sqrt(1.0 / sigma**2 + 1.0 / test_sigma**2)
    return _outside(sigma, half_band), _outside(left, half_band)


def _outside(sigma: float, half_band: float) -> float:
    return erfc(half_band / (sigma * sqrt(2.0)))


def hand_test_due(look: Looking, was: bool) -> Finding:
    """Free chlorine or pH is known so loosely that a test is worth the walk; or it was not tested for the set number of days.
    Doubt is looked at in settled flow only: over a night without flow everything is unsure."""
    evidence, water = look.view.evidence, look.view.water
    limit_s = look.params.test_due_days * DAY_S
    doubts = (
        (
            Quantity.FREE_CHLORINE,
            log(max(water.high95_mg_l, NONE_MG_L) / max(water.low95_mg_l, NONE_MG_L)) / 3.92,
            HALF_BAND_LN,
            TEST_LN,
        ),
        (Quantity.PH, water.ph_sigma, HALF_BAND_PH, TEST_PH),
    )
    for quantity, sigma, half_band, test_sigma in doubts:
        newest = evidence.newest_test(quantity)
        age_s = evidence.clock_s - (evidence.start.started_s if newest is None else newest.taken_s)
        if age_s > limit_s:
            return because(look, "alarm.test_due", ("quantity", quantity.value), ("days", round(age_s / DAY_S)))
        if newest is not None:  # the next one errs as this owner's kit does
            level = newest.value if quantity is Quantity.FREE_CHLORINE else 1.0
            test_sigma = min(1.0, max(0.3 * test_sigma, newest.sigma / max(level, newest.sigma)))
        now, left = bought(sigma, half_band, test_sigma)
        if (newest is None or age_s > REST_S) and now - left > (WORTH_STANDING if was else WORTH) and (was or settled(evidence)):
            facts = (("quantity", quantity.value), ("percent", round(100.0 * now)), ("left_percent", round(100.0 * left)))
            return because(look, "alarm.test_worth", *facts)
    return False
