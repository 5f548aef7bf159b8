"""A pool that has rested for long: what is in the water stays as believed, what was learnt of its habits is forgotten.

In autumn a pool takes little, and its electrode is clean; in spring it is opened with algae in it, and the electrode has lain in
water without chlorine, or in a cupboard. An estimate that is sure of autumn takes a bloom for a wrong electrode, and the pool is
lost before a test shows it. What tests taught of the water can still be taken back.
"""

from dataclasses import replace

from dosectl.core.estimate.begin import start
from dosectl.core.estimate.filters import rows_of, triangle_of, var_of
from dosectl.core.estimate.params import EstimateParams
from dosectl.core.estimate.state import CHLORINE, STABILISER, Estimate
from dosectl.core.site import Site
from dosectl.model.water_tests import Quantity

STAY = (CHLORINE, STABILISER)


def rested(site: Site, params: EstimateParams, est: Estimate) -> Estimate:
    """The estimate with demand, sun, electrode and what arrives of a feed as unknown as in a pool that nobody has watched yet."""
    fresh = start(site, params, (), est.updated_s)
    mean, p = list(fresh.mean), rows_of(fresh.cov)
    for state in STAY:
        mean[state] = est.mean[state]
        p[state] = list(p[state])
        p[state][state] = var_of(est.cov, state)
    return replace(
        fresh,
        mean=tuple(mean),
        cov=triangle_of(p),
        updated_s=est.updated_s,
        ph=est.ph,
        alkalinity_mg_l=est.alkalinity_mg_l,
        alkalinity_var=est.alkalinity_var,
        temp_c=est.temp_c,
        sun_day_h=est.sun_day_h,
        light_share=est.light_share,
        tested_s=est.tested_s,
        taught=tuple(t for t in est.taught if t.quantity is not Quantity.FREE_CHLORINE),
        ph_seen_s=est.ph_seen_s,
    )
