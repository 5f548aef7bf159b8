"""How much of a product reaches a target, in portions, with all that it moves and how sure that is.

It answers; it feeds nothing. Limits of a portion are common practice and on the careful side.
"""

import itertools
import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from enum import StrEnum

from dosectl.chemistry import carbonate, products, ranges, strengths
from dosectl.chemistry.answers import dechlorination, mixing
from dosectl.chemistry.answers.water import Water, after
from dosectl.chemistry.products import Effects
from dosectl.chemistry.ranges import Range

PH_STEP = 0.3  # what one portion may move the pH by, whatever the product is added for
PORTIONS_MAX = 60


class Goal(StrEnum):
    """What is to be moved."""

    FREE_CHLORINE = "free_chlorine_mg_l"
    ALKALINITY = "ta_mg_l"
    CYANURIC_ACID = "cya_mg_l"
    HARDNESS = "hardness_mg_l"
    SALT = "salt_g_l"
    BORATE = "borate_b_mg_l"
    PH = "ph"


_PORTION: dict[Goal, float] = {
    Goal.FREE_CHLORINE: 5.0,
    Goal.ALKALINITY: 30.0,
    Goal.CYANURIC_ACID: 20.0,
    Goal.HARDNESS: 50.0,
    Goal.SALT: 1.0,
    Goal.BORATE: 20.0,
    Goal.PH: PH_STEP,
}


@dataclass(frozen=True, slots=True)
class Supply:
    """A product as it stands on the shelf. `per_unit` is the effect of one `unit` (g or mL) in 1 m3."""

    key: str
    unit: str
    per_unit: Effects


def granules(key: str, *, available_percent: float | None = None, purity_percent: float | None = None) -> Supply:
    """A solid product by its label; see `products.addition` for strengths. Trade calcium hypochlorite must say its strength."""
    p = products.product(key)
    if not p.solid:
        raise ValueError(f"product = {key!r}: accepted is a solid; say a liquid's strength with `hypochlorite` or `acid`")
    if key == "calcium_hypochlorite" and available_percent is None:
        raise ValueError(f"available chlorine of {key} = none: accepted is the percentage on the label, mostly 65 to 73")
    return Supply(key, "g", products.addition(key, 1.0, 1.0, available_percent=available_percent, purity_percent=purity_percent))


def hypochlorite(strength_g_l: float) -> Supply:
    """Liquid hypochlorite by its strength of today: `strengths.hypochlorite_g_l`, then `decay.hypochlorite_strength_g_l`."""
    g_ml = Range("hypochlorite strength", 5.0, 300.0, "g/L").check(strength_g_l) / 1000.0
    return Supply("sodium_hypochlorite", "mL", products.product("sodium_hypochlorite").per_g_chlorine().scaled(g_ml))


def acid(percent_w_w: float, density_kg_l: float | None = None) -> Supply:
    """Hydrochloric acid by weight percentage; see `strengths.acid_meq_ml`."""
    grams = strengths.acid_meq_ml(percent_w_w, density_kg_l) * strengths.HCL_G_MOL / 1000.0
    return Supply("hydrochloric_acid", "mL", products.product("hydrochloric_acid").per_g.scaled(grams))


def neutraliser(key: str, *, purity_percent: float | None = None) -> Supply:
    """A neutraliser by weight, with the usual grams per gram of chlorine; see `dechlorination`. Peroxide must say its strength.

    `ta_net` is told against chlorine that would have become chloride anyway, as everywhere.
    """
    n = dechlorination.neutraliser(key)
    if key == "peroxide" and purity_percent is None:
        raise ValueError("strength of peroxide = none: accepted is the label's percentage by weight, mostly 3 to 35")
    share = 1.0
    if purity_percent is not None:
        share = Range(f"purity of {key}", 1.01, 100.0, "%", "give percent, not a fraction").check(purity_percent) / 100.0
    takes = share / n.g_per_g
    return Supply(
        key,
        "g",
        Effects(
            free_chlorine_mg_l=-takes,
            ta_instant_mg_l=takes * n.ta_mg_per_mg,
            ta_net_mg_l=takes * (n.ta_mg_per_mg + dechlorination.TA_OF_SPENT_CHLORINE),
        ),
    )


@dataclass(frozen=True, slots=True)
class Dose:
    """An answer. Amounts in the supply's unit; `sigma` is one standard deviation of the amount, from tests and volume.

    `mixed` is the water right after all of it, `settled` once added chlorine has been used. `working` holds the
    steps as (what, number, unit). `danger_notes` must be shown whenever the amount is.
    """

    supply: Supply
    amount: float
    sigma: float
    portions: tuple[float, ...]
    mixed: Water
    settled: Water
    working: tuple[tuple[str, float, str], ...]
    danger_notes: tuple[str, ...]


def add(water: Water, supply: Supply, amount: float, *, settled: bool = False) -> Water:
    """The water after an amount of a supply. What a neutraliser no longer finds chlorine for does nothing here."""
    Range("amount", 0.0, 1e12, supply.unit).check(amount)
    if supply.per_unit.free_chlorine_mg_l < 0.0:
        amount = min(amount, -water.free_chlorine_mg_l * water.volume_m3 / supply.per_unit.free_chlorine_mg_l)
    return after(water, supply.per_unit.scaled(amount / water.volume_m3), settled=settled)


def dose(water: Water, supply: Supply, goal: Goal, target: float, sigmas: Mapping[str, float] | None = None) -> Dose:
    """How much of a supply brings the water to a target.

    Parameters
    ----------
    water : As tested.
    supply : What is at hand.
    goal, target : The quantity and the value wanted, in the unit of `Water`.
    sigmas : Standard deviation per field of `Water` ("volume_m3": 2.0, "ph": 0.1, ...); a field
    left out
        counts as exact.
    Raises : ValueError when the product can't move the quantity that way, or the way leads out of the model's
    range.
    """
    value = getattr(water, goal.value)
    Range("target", 0.0, 1e6, "").check(target)
    amount = _amount(water, supply, goal, target)
    variance = 0.0
    for field, sigma in (sigmas or {}).items():
        Range(f"standard deviation of {field}", 0.0, 1e6, "").check(sigma)
        variance += (_sensitivity(lambda w: _amount(w, supply, goal, target), water, field, sigma)) ** 2
    count = _count(water, supply, goal, abs(target - value), amount)
    return Dose(
        supply=supply,
        amount=amount,
        sigma=math.sqrt(variance),
        portions=tuple(amount / count for _ in range(count)),
        mixed=add(water, supply, amount),
        settled=add(water, supply, amount, settled=True),
        working=(
            ("now", value, goal.value),
            ("wanted", target, goal.value),
            ("pool", water.volume_m3, "m3"),
            ("in all", amount, supply.unit),
        ),
        danger_notes=mixing.safety_notes(supply.key),
    )


def _count(water: Water, supply: Supply, goal: Goal, change: float, amount: float) -> int:
    """Least number of equal portions of which none moves its goal, or the pH on the way, by more than a portion may.

    Soda ash for alkalinity or borax for borate move the pH far more than what they are added for.
    """
    count = max(1, math.ceil(change / _PORTION[goal] - 1e-9))
    if goal is Goal.FREE_CHLORINE:
        return count
    while count < PORTIONS_MAX:
        levels = [water.ph, *(add(water, supply, amount * (part + 1) / count).ph for part in range(count))]
        largest = max(abs(b - a) for a, b in itertools.pairwise(levels))
        if largest <= PH_STEP + 1e-3:
            return count
        count += 1
    raise ValueError(
        f"{goal.value} moved by {change:g}: accepted is less at a time; {supply.key} would upset the pH of this water"
    )


def _sensitivity(law: Callable[[Water], float], water: Water, field: str, sigma: float) -> float:
    """Change of a result over one standard deviation of one input, from both sides where the range allows."""
    value = getattr(water, field)
    ends = []
    for shifted in (value + sigma, max(0.0, value - sigma)):
        try:
            ends.append((shifted, law(replace(water, **{field: shifted}))))
        except ValueError:
            ends.append((value, law(water)))  # the target was passed or the range left: the slope is that of the other side
    (high, at_high), (low, at_low) = ends
    return 0.0 if high <= low else sigma * (at_high - at_low) / (high - low)


def _amount(water: Water, supply: Supply, goal: Goal, target: float) -> float:
    if goal is Goal.PH:
        return _amount_for_ph(water, supply, target)
    gain = {
        Goal.FREE_CHLORINE: supply.per_unit.free_chlorine_mg_l,
        Goal.ALKALINITY: supply.per_unit.ta_net_mg_l,
        Goal.CYANURIC_ACID: supply.per_unit.cya_mg_l,
        Goal.HARDNESS: supply.per_unit.hardness_mg_l,
        Goal.SALT: supply.per_unit.salt_mg_l / 1000.0,
        Goal.BORATE: supply.per_unit.borate_b_mg_l,
    }[goal]
    change = target - getattr(water, goal.value)
    if change != 0.0 and change * gain <= 0.0:
        raise ValueError(
            f"{goal.value} = {target:g} wanted: accepted is what {supply.key} can do; it moves it by {gain:+g} a unit"
        )
    return change * water.volume_m3 / gain if change != 0.0 else 0.0


def _amount_for_ph(water: Water, supply: Supply, target: float) -> float:
    """In closed form where the product brings no chlorine and no ring; else by halving: pH moves one way with any product."""
    ranges.WATER_PH.check(target)
    if target == water.ph:
        return 0.0
    per = supply.per_unit
    if per.free_chlorine_mg_l == 0.0 and per.cya_mg_l == 0.0:
        amount = water.volume_m3 * carbonate.units_for_ph(
            water.ta_mg_l,
            water.cya_mg_l,
            water.ph,
            target,
            ta_per_unit_mg_l=per.ta_instant_mg_l,
            dic_per_unit_mmol_l=per.dic_mmol_l,
            borate_per_unit_b_mg_l=per.borate_b_mg_l,
            borate_b_mg_l=water.borate_b_mg_l,
            temp_c=water.temp_c,
            salt_g_l=water.salt_g_l,
            free_chlorine_mg_l=water.free_chlorine_mg_l,
        )
    else:
        amount = _by_halving(water, supply, target)
    # Range and reach are judged by the addition itself; salt that comes with an acid moves the pH by less than this.
    if not 0.0 < amount < math.inf or abs(add(water, supply, amount).ph - target) > 1e-3:
        raise ValueError(f"pH = {target:g} wanted: accepted is what {supply.key} can reach from {water.ph:g}")
    return amount


def _by_halving(water: Water, supply: Supply, target: float) -> float:
    rising = target > water.ph

    def short_of(amount: float) -> bool:
        try:
            reached = add(water, supply, amount).ph
        except ValueError:
            return False  # beyond the model's range, so beyond the target
        return reached < target if rising else reached > target

    high = water.volume_m3
    while short_of(high):
        high *= 2.0
        if high > 5e4 * water.volume_m3:
            return math.inf
    low = 0.0
    for _ in range(60):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if short_of(middle) else (low, middle)
    return low
