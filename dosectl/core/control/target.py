"""The free chlorine to aim for: a share of the stabiliser, with a floor and a ceiling.

Sources: the shares keep about 0.02 (salt pools) or 0.03 mg/L HOCl, common practice; the floor of 2 mg/L is the middle of 1-3
without stabiliser and the least of home-pool advice with it (from memory); above CYA 140 even the salt share passes 7 mg/L.
"""

from dataclasses import dataclass

from dosectl.chemistry.chlorine import upper_free_chlorine_limit_mg_l
from dosectl.core.control import reasons
from dosectl.core.control.params import ControlParams
from dosectl.core.control.reasons import now_because
from dosectl.core.estimate import WaterView
from dosectl.core.evidence import Evidence
from dosectl.core.site import Site
from dosectl.model.reasons import Reason

REPLACE_ABOVE_CYA_MG_L = 140.0
DOUBT_USED = 0.15  # of one standard deviation of the stabiliser: too little chlorine is the worse error
DOUBT_SHARE_MAX = 0.05
BAND_LOW, BAND_HIGH = 0.75, 1.5
FADES_FROM = 0.6  # of the way from the target to the band's upper edge


@dataclass(frozen=True, slots=True)
class Band:
    """Free chlorine aimed for, its band and its upper limit. [mg/L]"""

    mg_l: float
    low_mg_l: float
    high_mg_l: float
    limit_mg_l: float


@dataclass(frozen=True, slots=True)
class Target(Band):
    """A band, and why.

    fade_mg_l : above it nothing is fed, but before a pause that takes much (`demand.plan`)
    """

    why: Reason

    @property
    def fade_mg_l(self) -> float:
        """Three fifths of the way from the target to the band's upper edge, less where the edge is near."""
        return self.mg_l + FADES_FROM * (self.high_mg_l - self.mg_l)


def assumed_cya_mg_l(cya_mg_l: float, cya_sigma: float) -> float:
    """The stabiliser that targets are taken from: the estimate with part of its doubt, at most 5 %, on top."""
    return cya_mg_l + min(DOUBT_USED * cya_sigma, DOUBT_SHARE_MAX * cya_mg_l)


def share_of_stabiliser(site: Site, params: ControlParams) -> float:
    """Of the stabiliser, the free chlorine to aim for; by the salt in the water, whatever feeds it."""
    return params.share_salt if site.pool.salt_water else params.share_other


def target_mg_l(site: Site, params: ControlParams, water: WaterView) -> float:
    """The free chlorine to aim for in this water. [mg/L]"""
    return band(site, params, water.cya_mg_l, water.cya_sigma).mg_l


def band(site: Site, params: ControlParams, cya_mg_l: float, cya_sigma: float = 0.0) -> Band:
    """What these settings aim for with so much stabiliser, believed or known. [mg/L]"""
    wanted = share_of_stabiliser(site, params) * assumed_cya_mg_l(cya_mg_l, cya_sigma)
    value = min(params.target_mg_l_max, max(params.target_mg_l_min, wanted))
    limit = upper_free_chlorine_limit_mg_l(min(1000.0, cya_mg_l))
    return Band(value, BAND_LOW * value, max(value, min(BAND_HIGH * value, limit)), limit)


def target(site: Site, params: ControlParams, water: WaterView, evidence: Evidence) -> Target:
    """Today's target for this water."""
    share = share_of_stabiliser(site, params)
    cya = assumed_cya_mg_l(water.cya_mg_l, water.cya_sigma)
    wanted = share * cya
    if water.cya_mg_l > REPLACE_ABOVE_CYA_MG_L:
        why = now_because(reasons.REPLACE_WATER, evidence, stabiliser_mg_l=round(cya))
    elif wanted > params.target_mg_l_max:
        why = now_because(reasons.TARGET_CEILING, evidence, stabiliser_mg_l=round(cya))
    elif wanted < params.target_mg_l_min:
        why = now_because(reasons.TARGET_FLOOR, evidence, stabiliser_mg_l=round(cya))
    else:
        why = now_because(reasons.TARGET_SHARE, evidence, share_percent=100.0 * share, stabiliser_mg_l=round(cya))
    aimed = band(site, params, water.cya_mg_l, water.cya_sigma)
    return Target(aimed.mg_l, aimed.low_mg_l, aimed.high_mg_l, aimed.limit_mg_l, why)
