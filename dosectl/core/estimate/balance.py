"""What the mass balance between two hand tests says of the losses.

Between two tests of free chlorine all that was fed and did not stay was lost. That needs no electrode, and it is what a weekly
test can tell best: an electrode that drifts lets a filter take a wrong loss for a wrong probe, week after week, and a pool in
shade was fed to twice its target though each test had said so. The loss by demand and by sun is found as one common factor on
both, with which what the first test found becomes what the second did; their split stays as it was believed.
"""

from dataclasses import replace
from math import exp, hypot, log, sqrt

from dosectl.chemistry import decay
from dosectl.chemistry.cyanurate import ring_at
from dosectl.core.estimate.chlorine import DAY_S, demand_shares, sun_per_s
from dosectl.core.estimate.filters import Rows, correct
from dosectl.core.estimate.params import EstimateParams
from dosectl.core.estimate.state import DEMAND, EFFECT, SUN, Balance
from dosectl.model.water_tests import WaterTest

DAYS_MIN, DAYS_MAX = 2.0, 15.0
WEATHER_LOG_SIGMA = 0.25  # clouds, bathers and leaves of one week are not those of the next; own judgement
FACTOR_MOST = 5.0
LEAST_MG_L = 0.1  # of a test: how little it was nobody can tell
STEPS = 48


def grown(balance: Balance | None, fed_mg_l: float, uv_s: float, temp_c: float, dt_s: float, broken: bool) -> Balance | None:
    """The balance with a spell more; None where something else than feeders has changed the chlorine, or nobody was watching."""
    if balance is None or broken:
        return None
    return replace(
        balance,
        fed_mg_l=balance.fed_mg_l + fed_mg_l,
        uv_s=balance.uv_s + uv_s,
        warm_s=balance.warm_s + dt_s * decay.demand_temperature_factor(min(45.0, max(0.0, temp_c))),
        watched_s=balance.watched_s + dt_s,
    )


def begun(test: WaterTest) -> Balance:
    """A balance that begins with a test."""
    return Balance(test.request, test.taken_s, test.value, test.sigma)


def use_balance(
    mean: list[float], p: Rows, params: EstimateParams, balance: Balance | None, test: WaterTest, ph: float, depth_share: float
) -> bool:
    """Moves demand and sun by what was lost between the balance's test and this one, in place. False where it tells nothing."""
    if balance is None or not DAYS_MIN * DAY_S <= test.taken_s - balance.since_s <= DAYS_MAX * DAY_S:
        return False
    if balance.watched_s < 0.9 * (test.taken_s - balance.since_s):
        return False
    days = balance.watched_s / DAY_S
    ring = ring_at(10.0**-ph)
    warmth = exp(mean[DEMAND]) * balance.warm_s / balance.watched_s
    light = balance.uv_s / balance.watched_s

    def losses(free: float) -> tuple[float, float]:
        fixed, grows = demand_shares(free)
        return warmth * (fixed + grows), light * sun_per_s(mean, params, depth_share, free, ring) * DAY_S * free

    def left(before: float, fed: float, factor: float) -> float:
        free, part = max(LEAST_MG_L, before), days / STEPS
        for _ in range(STEPS):
            free += (fed / days - factor * sum(losses(free))) * part
            free = max(0.02, free)
        return free

    def factor_of(before: float, fed: float, after: float) -> float:
        low, high = -log(FACTOR_MOST), log(FACTOR_MOST)
        for _ in range(24):
            middle = 0.5 * (low + high)
            low, high = (middle, high) if left(before, fed, exp(middle)) > after else (low, middle)
        return 0.5 * (low + high)

    fed = balance.fed_mg_l * exp(mean[EFFECT])
    had, has = max(LEAST_MG_L, balance.value), max(LEAST_MG_L, test.value)
    found = factor_of(had, fed, has)
    by_effect = sqrt(p[EFFECT][EFFECT])
    errors = (
        factor_of(had + balance.sigma, fed, has) - found,
        factor_of(had, fed, has + test.sigma) - found,
        factor_of(had, fed * exp(by_effect), has) - found,
        WEATHER_LOG_SIGMA,
    )
    by_demand, by_sun = losses(sqrt(had * has))
    whole = by_demand + by_sun
    correct(mean, p, ((DEMAND, by_demand / whole), (SUN, by_sun / whole)), found, hypot(*errors) ** 2)
    return True
