"""What really arrives of what a chlorine feeder is booked for, as far as that can be foretold.

Stored hypochlorite loses strength from the day it was filled in, by half in some months of warm storage. A cell gives less in
cold water: common practice, most limit or stop themselves below about 15 °C.

Estimate and control reckon with it. The ledger goes on booking what the label says, which is more than arrives: no limit is
loosened. It is taken to be stored as warm as the pool's water, which follows the season as a plant room does: in July, at 30 °C,
the same product is spent four times as fast as at 20 °C; each hour counts by the water it was stored beside. What is left of the
error the estimate learns.
"""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import replace
from functools import lru_cache

from dosectl.chemistry.decay import hypochlorite_half_life_days
from dosectl.chemistry.delivery import temperature_factor
from dosectl.core.evidence import Standing
from dosectl.core.site import Feeder, Site
from dosectl.model.feeds import FeederId, Substance

STORED_C_MIN, STORED_C_MAX = 5.0, 35.0  # no container follows a frozen or a solar-heated pool; own judgement
AGE_DAYS_MAX = 700.0
COLD_SPAN_K = 5.0  # from all of its output to nothing; labels differ
COLD_SHARE_LEAST = 0.2  # a cell that is switched on gives something: no label is known so well that all is denied; own judgement
WATER_C_MAX = 45.0
COUNTED_EACH_S = 3600.0
DAY_S = 86400.0


def ages(site: Site) -> bool:
    """Whether chlorine comes from a product that loses strength in its container."""
    return any(feeder.kind == "pump" and feeder.substance is Substance.CHLORINE for feeder in site.feeders)


def arriving_share(feeder: Feeder, standing: Standing, clock_s: float, water_c: float) -> float:
    """Share of the booked mass that reaches the water: what a product still holds, and what a cell gives in this water.

    water_c : temperature of the pool's water, as far as it is known [deg C]; a product's, for the time since its age was counted
    """
    return cold_share(feeder, water_c) * product_share(feeder, standing, clock_s, water_c)


def cold_share(feeder: Feeder, water_c: float) -> float:
    """Share of its output that a cell gives in water of this temperature [deg C]; 1 for what is no cell. Common practice."""
    if feeder.kind != "cell" or feeder.full_from_c <= 0.0 or water_c >= feeder.full_from_c:
        return 1.0
    known_c = min(WATER_C_MAX, max(0.0, water_c))
    return max(COLD_SHARE_LEAST, temperature_factor(known_c, feeder.full_from_c, feeder.full_from_c - COLD_SPAN_K))


def mean_share(site: Site, feeders: Iterable[FeederId], share: Callable[[Feeder], float]) -> float:
    """Of what these feeders give of chlorine together, what reaches the water: each by its rate; 1 where there are none."""
    named = set(feeders)
    return weighted(
        site.feeders, {f.id: f.rate_g_s for f in site.feeders if f.id in named and f.substance is Substance.CHLORINE}, share
    )


def weighted(feeders: Iterable[Feeder], by: Mapping[FeederId, float], share: Callable[[Feeder], float]) -> float:
    """The feeders' mean share by what each gives; 1 where all give nothing. One that is not among them gives all."""
    shares = {feeder.id: share(feeder) for feeder in feeders if feeder.id in by}
    whole = sum(by.values())
    return sum(value * shares.get(feeder, 1.0) for feeder, value in by.items()) / whole if whole > 0.0 else 1.0


def product_share(feeder: Feeder, standing: Standing, clock_s: float, water_c: float) -> float:
    """Share of its strength that the product in the container still holds; 1 for what does not age or was never filled in."""
    age = _half_lives(feeder, standing, clock_s, water_c)
    return 1.0 if age is None else 1.0 / (1.0 + age)


def with_ages(site: Site, standing: Standing, clock_s: float, water_c: float) -> Standing:
    """The standing with each product's age counted on, once an hour: what a warm week took does not come back in a cool one."""
    aged = {feeder: (age, until_s) for feeder, age, until_s in standing.aged}
    for feeder in site.feeders:
        _, until_s = aged.get(feeder.id, (0.0, float("-inf")))
        filled_s = _filled_s(feeder, standing)
        if filled_s is None or (clock_s - until_s < COUNTED_EACH_S and filled_s <= until_s):
            continue
        age = _half_lives(feeder, standing, clock_s, water_c)
        if age is not None:
            aged[feeder.id] = (age, clock_s)
    rows = tuple((feeder, age, until_s) for feeder, (age, until_s) in aged.items())
    return standing if rows == standing.aged else replace(standing, aged=rows)


def _half_lives(feeder: Feeder, standing: Standing, clock_s: float, water_c: float) -> float | None:
    """Half-lives that the product has lain: C = C0 / (1 + sum of dt / half-life), see `hypochlorite_strength_g_l`."""
    filled_s = _filled_s(feeder, standing)
    if filled_s is None:
        return None
    age, from_s = next(((age, until_s) for name, age, until_s in standing.aged if name == feeder.id), (0.0, filled_s))
    if filled_s > from_s:
        age, from_s = 0.0, filled_s
    days = min(AGE_DAYS_MAX, max(0.0, (clock_s - from_s) / DAY_S))
    return age + days / _half_life_days(1000.0 / feeder.ml_per_g, round(min(STORED_C_MAX, max(STORED_C_MIN, water_c))))


def _filled_s(feeder: Feeder, standing: Standing) -> float | None:
    """When a product that ages was last filled in; None for others."""
    if feeder.kind != "pump" or feeder.substance is not Substance.CHLORINE or feeder.ml_per_g <= 0.0:
        return None
    return next((at_s for name, at_s, _ in standing.refills if name == feeder.id), None)


def renewed_chlorine(site: Site, before: Standing, after: Standing) -> bool:
    """Whether a chlorine container was filled between the two."""
    if after.refills is before.refills:
        return False
    chlorine = {feeder.id for feeder in site.feeders if feeder.substance is Substance.CHLORINE}
    return any(refill[0] in chlorine and refill not in before.refills for refill in after.refills)


@lru_cache(maxsize=64)
def _half_life_days(delivered_g_l: float, stored_c: int) -> float:
    return hypochlorite_half_life_days(delivered_g_l, float(stored_c))
