"""What may be aimed for: beyond the hard bounds a target is a slip and refused, beyond the usual ones it is warned of."""

from collections.abc import Mapping
from dataclasses import dataclass
from math import isfinite

from dosectl.chemistry.answers.dosing import Goal
from dosectl.chemistry.chlorine import upper_free_chlorine_limit_mg_l
from dosectl.core.advice.answer import Said, warning
from dosectl.core.advice.known import ABOUT, Basis, Field, Refused
from dosectl.model.reasons import Code, ReasonKind


@dataclass(frozen=True, slots=True)
class Aim:
    """Bounds of a target: `hard` are refused, `usual` warned of."""

    hard_low: float
    hard_high: float
    low: float
    high: float


# pH 7.2-7.8, stabiliser to 90, alkalinity 60-180: widely used health codes, from memory. The rest: common practice.
AIMS: Mapping[Goal, Aim] = {
    Goal.FREE_CHLORINE: Aim(0.0, 60.0, 1.0, 10.0),
    Goal.PH: Aim(6.8, 8.4, 7.2, 7.8),
    Goal.ALKALINITY: Aim(20.0, 300.0, 60.0, 180.0),
    Goal.CYANURIC_ACID: Aim(0.0, 200.0, 20.0, 80.0),
    Goal.HARDNESS: Aim(0.0, 1200.0, 100.0, 500.0),
    Goal.SALT: Aim(0.0, 12.0, 2.5, 5.0),
    Goal.BORATE: Aim(0.0, 100.0, 30.0, 50.0),
}
ODD_TARGET = ReasonKind(
    Code("advice.odd_target"), "A {what} of {target} {unit} is outside what is usually aimed for ({low} to {high} {unit})."
)
OVER_LIMIT = ReasonKind(
    Code("advice.over_limit"),
    "{target} mg/L is above the upper limit for this water, {limit} mg/L: nobody swims until it has come down below it.",
)
OVER_LIMIT_BARE = ReasonKind(
    Code("advice.over_limit_bare"),
    "{target} mg/L is above the upper limit of water without stabiliser, {limit} mg/L, and the stabiliser is not known: "
    "nobody swims until it has come down or the stabiliser is known.",
)


def aimed(goal: Goal, target: float, basis: Basis | None = None) -> tuple[Said, ...]:
    """Warnings for a target. Raises Refused where nobody can mean it."""
    aim = AIMS[goal]
    about = ABOUT[Field(goal.value)]
    unit = f" {about.unit}" if about.unit else ""
    if isinstance(target, bool) or not (isfinite(target) and aim.hard_low <= target <= aim.hard_high):
        raise Refused(
            f"target of {about.words} = {target:g}{unit}: accepted is {aim.hard_low:g} to "
            f"{aim.hard_high:g}{unit}; look at the unit"
        )
    says: list[Said] = []
    if goal is Goal.FREE_CHLORINE and basis is not None:
        says += over_limit(basis, target)
    if not says and not aim.low <= target <= aim.high:
        says.append(warning(ODD_TARGET, what=about.words, target=target, unit=about.unit, low=aim.low, high=aim.high))
    return tuple(says)


def over_limit(basis: Basis, free_chlorine_mg_l: float) -> tuple[Said, ...]:
    """A warning where this chlorine passes the upper limit of the water and was not there before."""
    before = basis.water.free_chlorine_mg_l
    limit = upper_free_chlorine_limit_mg_l(basis.water.cya_mg_l)
    if free_chlorine_mg_l <= max(limit, before):
        return ()
    kind = OVER_LIMIT if basis.knows(Field.STABILISER) else OVER_LIMIT_BARE
    return (warning(kind, target=round(free_chlorine_mg_l, 1), limit=limit),)
