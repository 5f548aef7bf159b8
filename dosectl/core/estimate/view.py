"""The estimate in plain units."""

from math import exp, sqrt

from dosectl.chemistry import decay
from dosectl.chemistry.chlorine import hocl_mg_l
from dosectl.chemistry.cyanurate import ring_at
from dosectl.core.estimate.chlorine import CYA_SHIFT_MG_L, cya_of, demand_mg_l_day, sun_per_s
from dosectl.core.estimate.filters import var_of
from dosectl.core.estimate.params import EstimateParams
from dosectl.core.estimate.state import CHLORINE, EFFECT, OFFSET, STABILISER, Estimate, WaterView
from dosectl.core.site import Site

Z95 = 1.96
STATED = 0.7
"""What is stated of the filter's own doubt. Its noises are wide so that no wrong step holds it, and what it weighs depends on
their ratios alone; their scale is free. Nine of ten hours of simulated pools lie within 0.7 of its 90 % band (DEVELOPERS 48)."""


def stated_log_sigma(variance: float) -> float:
    """The doubt that a person is told of, of a filter's variance of ln(free chlorine): everywhere the same share of it."""
    return STATED * sqrt(variance)


def water(site: Site, est: Estimate, params: EstimateParams | None = None) -> WaterView:
    """What the estimate says, with 95 % bounds of the free chlorine. `params` None takes the defaults for the sun's share."""
    rates = params or EstimateParams()
    free = exp(est.mean[CHLORINE])
    log_sigma = stated_log_sigma(var_of(est.cov, CHLORINE))
    cya = cya_of(est.mean)
    ph = min(9.5, max(5.5, est.ph[0]))
    depth_share = decay.depth_factor(site.pool.depth_m, rates.light_attenuation_per_m)
    sun_k = sun_per_s(est.mean, rates, depth_share, free, ring_at(10.0**-ph))
    return WaterView(
        free_chlorine_mg_l=free,
        sigma_mg_l=free * log_sigma,
        low95_mg_l=free * exp(-Z95 * log_sigma),
        high95_mg_l=free * exp(Z95 * log_sigma),
        ph=est.ph[0],
        ph_sigma=sqrt(est.ph[2]),
        temp_c=est.temp_c,
        cya_mg_l=cya,
        cya_sigma=(cya + CYA_SHIFT_MG_L) * sqrt(var_of(est.cov, STABILISER)),
        alkalinity_mg_l=est.alkalinity_mg_l,
        alkalinity_sigma=sqrt(est.alkalinity_var),
        demand_mg_l_day=demand_mg_l_day(est.mean, est.temp_c),
        sun_loss_mg_l_day=sun_k * 3600.0 * est.sun_day_h * free,
        orp_offset_mv=est.mean[OFFSET],
        hocl_mg_l=hocl_mg_l(free, cya, ph),
        arrives=exp(est.mean[EFFECT]),
        arrives_log_sigma=sqrt(var_of(est.cov, EFFECT)),
        dark_h=est.dark_s / 3600.0,
    )
