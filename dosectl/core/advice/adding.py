"""How much of a product reaches a target, or what an amount of it does."""

from math import isfinite

from dosectl.chemistry.answers import dosing
from dosectl.chemistry.answers.dosing import Dose, Goal
from dosectl.chemistry.products import Family
from dosectl.core.advice.adding_steps import done, gain_of, steps_of
from dosectl.core.advice.answer import Z95, Answer, Figure, Said, answer, measured, note, warning
from dosectl.core.advice.effects import PH_NEEDS, moves
from dosectl.core.advice.known import ABOUT, Basis, Field, Known, Refused, basis, value_of
from dosectl.core.advice.neutralising import neutralise, spread
from dosectl.core.advice.safety import notes_for
from dosectl.core.advice.shelf import ALSO_GOALS, USUAL_GOAL, Shelf
from dosectl.core.advice.targets import aimed, over_limit
from dosectl.model.reasons import Code, ReasonKind

ADD = ReasonKind(
    Code("advice.add"), "{amount} of {product} bring {what} from {now} to {target} {unit} (with 95 %: {low} to {high})."
)
NOTHING = ReasonKind(Code("advice.nothing"), "Nothing to add: {what} is {now} {unit} already.")
PORTIONS = ReasonKind(
    Code("advice.portions"),
    "In {count} portions of {portion}, {apart} apart. Test before each and leave out what is no longer wanted.",
)
ONE_PORTION = ReasonKind(
    Code("advice.one_portion"),
    "Start with about half of it, {portion}, let it mix for {apart}, test, then give what is lacking.",
)
WITHIN_DOUBT = ReasonKind(
    Code("advice.within_doubt"),
    "The change wanted, {change} {unit}, is no larger than what the test can be off ({doubt} {unit}): test again before you add.",
)
EFFECT = ReasonKind(
    Code("advice.effect"), "{amount} of {product} in {volume_m3} m3; with 95 % each change lies within {doubt} % of what is told:"
)
ACID_BOTH = ReasonKind(
    Code("advice.acid_both"),
    "Acid lowers pH and alkalinity together. The pH climbs back by itself as the water loses CO2 to the air; the alkalinity "
    "does not come back.",
)
DISSOLVES_SLOWLY = ReasonKind(
    Code("advice.dissolves_slowly"), "It dissolves over days: do not test stabiliser, or add more, for a week."
)
SALT_SLOWLY = ReasonKind(
    Code("advice.salt_slowly"), "Run the pump for a day before you test; keep the chlorinator off until it has mixed."
)
SULFATE = ReasonKind(
    Code("advice.sulfate"),
    "Each gram leaves 0.8 g of sulfate, which stays and in the long run harms cement, grout and chlorinators.",
)
BORAX_PH = ReasonKind(
    Code("advice.borax_ph"),
    "Borax drives the pH far up and takes acid with every portion; boric acid brings borate and hardly moves it.",
)
BASE_BOTH = ReasonKind(
    Code("advice.base_both"), "Soda ash raises pH and alkalinity together; where only the pH lacks, aerate instead."
)
BICARBONATE_PH = ReasonKind(Code("advice.bicarbonate_ph"), "Bicarbonate moves the pH little; it is for alkalinity.")

_PH_FAMILIES = {Family.ACID: "lowers", Family.ALKALI: "raises"}


def goal_of(shelf: Shelf) -> Goal:
    """What a product is usually added for."""
    return USUAL_GOAL.get(shelf.name, Goal.FREE_CHLORINE)


def add(known: Known, shelf: Shelf, target: float, goal: Goal | None = None) -> Answer:
    """How much brings the goal to the target, in portions, with all that it moves.

    Raises Refused where a value that decides it is unknown, or the product can't do it.
    """
    if shelf.family is Family.REDUCER:
        if goal not in (None, Goal.FREE_CHLORINE):
            raise Refused(f"{shelf.name} for {ABOUT[Field(goal.value)].words}: accepted is free chlorine, which it takes away")
        return neutralise(known, shelf, target)
    goal = goal_of(shelf) if goal is None else goal
    field = Field(goal.value)
    about = ABOUT[field]
    start = _basis(known, shelf, goal)
    says = [*aimed(goal, target, start), *start.says]
    _can(shelf, goal, target, start)
    try:
        dose = dosing.dose(start.water, shelf.supply, goal, target, start.sigmas)
    except ValueError as error:
        raise Refused(str(error)) from error
    now = float(getattr(start.water, field.value))
    if dose.amount <= 0.0:
        return Answer("add", (answer(NOTHING, what=about.words, now=now, unit=about.unit), *says), working=start.working)
    sigma = (dose.sigma**2 + (shelf.doubt_share * dose.amount) ** 2) ** 0.5
    doubt = known[field].sigma * Z95
    if abs(target - now) <= doubt:
        says.append(warning(WITHIN_DOUBT, change=round(abs(target - now), 2), doubt=round(doubt, 2), unit=about.unit))
    unit = shelf.supply.unit
    first = answer(
        ADD,
        amount=measured(dose.amount, unit),
        product=_words(shelf),
        what=about.words,
        now=now,
        target=target,
        unit=about.unit,
        low=measured(max(0.0, dose.amount - Z95 * sigma), unit),
        high=measured(dose.amount + Z95 * sigma, unit),
    )
    moved, more = moves(start, dose.mixed, dose.settled)
    working = (*start.working, *shelf.working, *steps_of(shelf, dose, goal, target, start, sigma))
    return Answer(
        "add",
        (first, _portions(shelf, dose), *says, *more, *shelf.says, *_manners(shelf, goal)),
        (
            Figure("amount", dose.amount, unit, sigma),
            Figure("portions", float(len(dose.portions)), ""),
            Figure("portion", dose.portions[0], unit),
        ),
        moved,
        (),
        working,
        notes_for(shelf.supply.key),
    )


def effect(known: Known, shelf: Shelf, amount: float) -> Answer:
    """What this much of a product does. `amount` in mL, g, or hours of a chlorinator at full level."""
    unit = shelf.supply.unit
    if isinstance(amount, bool) or not (isfinite(amount) and amount > 0.0):
        raise Refused(f"amount = {amount!r} {unit}: accepted is more than 0")
    start = basis(known, (Field.VOLUME,), "it decides how far an addition is thinned")
    if amount > 20000.0 * start.water.volume_m3:
        raise Refused(f"amount = {amount:g} {unit}: accepted is less; that is more than 20 per litre of pool. Look at the unit")
    try:
        mixed = dosing.add(start.water, shelf.supply, amount)
        settled = dosing.add(start.water, shelf.supply, amount, settled=True)
    except ValueError as error:
        raise Refused(str(error)) from error
    moved, more = moves(start, mixed, settled)
    doubt = (shelf.doubt_share**2 + (start.sigmas["volume_m3"] / start.water.volume_m3) ** 2) ** 0.5
    told = round(100.0 * Z95 * doubt)
    first = answer(EFFECT, amount=measured(amount, unit), product=_words(shelf), volume_m3=start.water.volume_m3, doubt=told)
    if shelf.family is Family.REDUCER:
        more = (*spread(start, shelf, amount), *more)
    figures = (Figure("amount", amount, unit), Figure("doubt of each change", 100.0 * doubt, "%"))
    return Answer(
        "effect",
        (first, *over_limit(start, mixed.free_chlorine_mg_l), *start.says, *more, *shelf.says),
        figures,
        moved,
        (),
        (*start.working, *shelf.working, *done(shelf, amount, start, doubt)),
        notes_for(shelf.supply.key),
    )


def _words(shelf: Shelf) -> str:
    return {"chlorinator": "chlorinator at full level", "stabiliser": "stabiliser (cyanuric acid)"}.get(
        shelf.name, shelf.name.replace("-", " ")
    )


def _basis(known: Known, shelf: Shelf, goal: Goal) -> Basis:
    moves_ph = shelf.family in _PH_FAMILIES and shelf.name != "bicarbonate"
    if goal is Goal.PH or moves_ph:  # whatever it is added for, a portion is bounded by what it does to the pH
        why = "pH, alkalinity and stabiliser together decide how much moves the pH"
        if goal is not Goal.PH:
            value_of(known, Field(goal.value), "the amount is the difference to what is there, times the volume")
        return basis(known, (Field.VOLUME, *PH_NEEDS), why, (Field.TEMPERATURE, Field.SALT))
    return basis(known, (Field.VOLUME, Field(goal.value)), "the amount is the difference to what is there, times the volume")


def _can(shelf: Shelf, goal: Goal, target: float, start: Basis) -> None:
    """Refuses a product that can't move the goal that way, with what to do instead."""
    now = float(getattr(start.water, goal.value))
    about = ABOUT[Field(goal.value)]
    if goal is Goal.PH:
        does = _PH_FAMILIES.get(shelf.family)
        if does is None:
            raise Refused(f"{shelf.name} for pH: accepted is an acid to lower it or a base to raise it; this is neither")
        if target != now and (target < now) != (does == "lowers"):
            raise Refused(
                f"pH = {target:g} wanted from {now:g}: accepted is {'less' if does == 'lowers' else 'more'}; "
                f"{shelf.name} {does} it"
            )
        return
    gain = gain_of(shelf, goal)
    if gain != 0.0 and goal not in (goal_of(shelf), *ALSO_GOALS.get(shelf.name, ())):
        raise Refused(
            f"{shelf.name} for {about.words}: accepted is a product that is made for it; this one moves it only by the way, "
            f"and what it is made for ({ABOUT[Field(goal_of(shelf).value)].words}) would go far out of bounds"
        )
    if gain == 0.0:
        raise Refused(f"{shelf.name} for {about.words}: accepted is a product that moves it; this one does not")
    if target != now and (target > now) != (gain > 0.0):
        way = "replace water" if goal is not Goal.FREE_CHLORINE else "ask how to come down"
        raise Refused(
            f"{about.words} = {target:g} wanted from {now:g}: accepted is {'more' if gain > 0.0 else 'less'} "
            f"than that with {shelf.name}; "
            f"to go the other way {way}"
        )


def _portions(shelf: Shelf, dose: Dose) -> Said:
    unit = shelf.supply.unit
    apart = {"stabiliser": "a week", "salt": "a day"}.get(shelf.name, "a full turnover of the pump")
    if len(dose.portions) > 1:
        return note(PORTIONS, count=len(dose.portions), portion=measured(dose.portions[0], unit), apart=apart)
    return note(ONE_PORTION, portion=measured(0.5 * dose.amount, unit), apart=apart)


def _manners(shelf: Shelf, goal: Goal) -> tuple[Said, ...]:
    """What is particular to a product."""
    if shelf.name == "dry-acid":
        return (note(ACID_BOTH), note(SULFATE))
    if shelf.family is Family.ACID:
        return (note(ACID_BOTH),)
    if shelf.name == "borax":
        return (warning(BORAX_PH),)
    if shelf.name == "soda-ash" and goal is Goal.PH:
        return (note(BASE_BOTH),)
    if shelf.name == "bicarbonate" and goal is Goal.PH:
        return (warning(BICARBONATE_PH),)
    return {"stabiliser": (note(DISSOLVES_SLOWLY),), "salt": (note(SALT_SLOWLY),)}.get(shelf.name, ())
