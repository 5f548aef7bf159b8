"""How the estimate of a pool starts."""

from math import hypot, log

from dosectl.core.estimate import ph as acidity
from dosectl.core.estimate.chlorine import CYA_SHIFT_MG_L, DAY_S, LIMITS
from dosectl.core.estimate.filters import Rows, bounded, diagonal, rows_of, triangle_of
from dosectl.core.estimate.params import EstimateParams
from dosectl.core.estimate.state import WATER_STATES, Estimate
from dosectl.core.estimate.water_tests import use_test, widened
from dosectl.core.product import ages
from dosectl.core.site import Site
from dosectl.model.water_tests import Quantity, WaterTest

START_TEMP_C = 25.0
UNTESTED_LOG_SIGMA = 0.7  # of ln mg/L of free chlorine; own judgement


def untested_mg_l(cya_mg_l: float) -> float:
    """Free chlorine of a pool that was never tested, to begin with: about what somebody keeps in it; own judgement."""
    return max(2.0, 0.06 * cya_mg_l)


def untaught(params: EstimateParams, cya_mg_l: float, product_ages: bool) -> tuple[list[float], Rows]:
    """Mean and covariance of a pool of which nobody has shown more than the stabiliser."""
    cya = cya_mg_l
    mean = [
        log(untested_mg_l(cya)),
        log(params.demand_mg_l_day),
        0.0,
        params.orp_reference_mv,
        log(cya + CYA_SHIFT_MG_L),
        params.orp_slope_mv,
        0.0,
        0.0,
        params.stabiliser_loss_share_day,
    ]
    sigmas = (
        UNTESTED_LOG_SIGMA,
        params.demand_log_sigma,
        params.sun_log_sigma,
        params.orp_reference_sigma_mv,
        min(0.6, params.stabiliser_sigma_mg_l / (cya + CYA_SHIFT_MG_L)) if cya > 0.0 else 0.3,
        params.orp_slope_sigma_mv,
        params.orp_drift_sigma_mv_day,
        hypot(params.feeder_log_sigma, params.product_log_sigma if product_ages else 0.0),
        params.stabiliser_loss_sigma_share_day,
    )
    return mean, rows_of(diagonal(sigmas))


def start(site: Site, params: EstimateParams, tests: tuple[WaterTest, ...] = (), clock_s: float | None = None) -> Estimate:
    """The estimate of a pool that nobody has watched yet: typed-in figures, widely doubted, and the tests there are.

    `tests` oldest first; `clock_s` is the plant clock now, None takes the newest test as now.
    """
    pool = site.pool
    mean, p = untaught(params, max(0.0, pool.stabiliser_mg_l), ages(site))
    now_s = clock_s if clock_s is not None else max((t.taken_s for t in tests), default=None)
    ph: acidity.Ph = (7.5, 0.0, 0.09, 0.0, params.ph_sigma**2)
    alkalinity, alkalinity_var = pool.alkalinity_mg_l, 400.0
    tested_s: float | None = None
    for test in tests:
        if test.withdrawn:
            continue
        age_days = max(0.0, (now_s or 0.0) - test.taken_s) / DAY_S
        if test.quantity in WATER_STATES:
            if age_days < 14.0 or test.quantity is Quantity.STABILISER:
                use_test(mean, p, widened(test, age_days))
            if test.quantity is Quantity.FREE_CHLORINE:
                tested_s = test.taken_s
        elif test.quantity is Quantity.PH:
            ph, _ = acidity.use_test(ph, test.value, test.sigma, age_days)
        elif test.quantity is Quantity.ALKALINITY:
            alkalinity, alkalinity_var, _ = acidity.use_alkalinity(alkalinity, alkalinity_var, test.value, test.sigma, age_days)
    bounded(mean, p, LIMITS)
    return Estimate(
        tuple(mean),
        triangle_of(p),
        now_s,
        ph,
        alkalinity,
        alkalinity_var,
        START_TEMP_C,
        4.0,
        0.0,
        None,
        (),
        (),
        (),
        None,
        tested_s,
    )
