"""What stored hypochlorite still gives: from the day it was filled in it loses strength, by half in some months of warm storage.

Estimate and control reckon with it. The ledger goes on booking what the label says, which is more than arrives: no limit is
loosened. It is taken to be stored as warm as the pool's water, which follows the season as a plant room does: in July, at 30 °C,
the same product is spent four times as fast as at 20 °C. What is left of the error the estimate learns.
"""

from functools import lru_cache

from dosectl.chemistry.decay import hypochlorite_strength_g_l
from dosectl.core.evidence import Standing
from dosectl.core.site import Feeder, Site
from dosectl.model.feeds import Substance

STORED_C_MIN, STORED_C_MAX = 5.0, 35.0  # no container follows a frozen or a solar-heated pool; own judgement
AGE_DAYS_MAX = 700.0
DAY_S = 86400.0


def ages(site: Site) -> bool:
    """Whether chlorine comes from a product that loses strength in its container."""
    return any(feeder.kind == "pump" and feeder.substance is Substance.CHLORINE for feeder in site.feeders)


def arriving_share(feeder: Feeder, standing: Standing, clock_s: float, water_c: float) -> float:
    """Share of the booked mass that the product in the container still holds; 1 for what does not age or was never filled in.

    water_c : temperature of the pool's water, as far as it is known [deg C]
    """
    if feeder.kind != "pump" or feeder.substance is not Substance.CHLORINE or feeder.ml_per_g <= 0.0:
        return 1.0
    filled_s = next((at_s for name, at_s, _ in standing.refills if name == feeder.id), None)
    if filled_s is None:
        return 1.0
    days = min(AGE_DAYS_MAX, max(0.0, (clock_s - filled_s) / DAY_S))
    return _share(1000.0 / feeder.ml_per_g, round(days), round(min(STORED_C_MAX, max(STORED_C_MIN, water_c))))


def renewed_chlorine(site: Site, before: Standing, after: Standing) -> bool:
    """Whether a chlorine container was filled between the two."""
    if after.refills is before.refills:
        return False
    chlorine = {feeder.id for feeder in site.feeders if feeder.substance is Substance.CHLORINE}
    return any(refill[0] in chlorine and refill not in before.refills for refill in after.refills)


@lru_cache(maxsize=64)
def _share(delivered_g_l: float, days: int, stored_c: int) -> float:
    return hypochlorite_strength_g_l(delivered_g_l, float(days), float(stored_c)) / delivered_g_l
