"""Chlorine taken out by a neutraliser: in portions that can't overshoot, with all that it moves and how far nobody knows it."""

from dataclasses import dataclass

from dosectl.chemistry.answers import dosing
from dosectl.chemistry.answers.dechlorination import Neutraliser
from dosectl.chemistry.answers.dechlorination import neutraliser as neutraliser_of
from dosectl.core.advice.answer import Z95, Answer, Course, Figure, Moved, Said, Worked, answer, measured, note, warning
from dosectl.core.advice.effects import moves
from dosectl.core.advice.known import Basis, Field, Known, Refused, basis, checked
from dosectl.core.advice.safety import notes_for
from dosectl.core.advice.shelf import Shelf
from dosectl.model.reasons import Code, ReasonKind

LEAST_SHARE = 0.2  # of the least dose: a portion is never told smaller than that, however wide the doubt

NEUTRALISE = ReasonKind(
    Code("advice.neutralise"),
    "With {product}: {first} first, then mix for a full turnover, test, and repeat: so little should not overshoot. In all it "
    "takes mostly about {usual}, {least} to {most} with 95 %; too much of it leaves a water that eats the next chlorine.",
)
NEUTRALISER_ACID = ReasonKind(
    Code("advice.neutraliser_acid"), "It takes up to {ta} mg/L of alkalinity with it, so the pH falls too."
)
NEUTRALISER_PURE = ReasonKind(
    Code("advice.neutraliser_pure"),
    "That is counted as pure, and no bottle is: divide by its strength, so at {percent} % by weight {bottle} first. "
    "It burns skin and eyes and bursts closed vessels: the label comes first.",
)
IN_DOUBT = ReasonKind(
    Code("advice.neutralise_doubt"),
    "The chlorine to take out, {drop} mg/L, is hardly more than the test can be off: test again before you add anything.",
)
SPREAD = ReasonKind(
    Code("advice.neutraliser_spread"),
    "Nobody can foretell it exactly: of free chlorine {low} to {high} mg/L may be left. Test before anything else.",
)
EXCESS = ReasonKind(
    Code("advice.neutraliser_excess"),
    "It is more than the chlorine there may need: what is left of it would eat about {mg_l} mg/L of the next chlorine.",
)
PEROXIDE_SHARE = 0.35  # by weight, a common bottle


@dataclass(frozen=True, slots=True)
class Neutralised:
    """The way down by a neutraliser, in the parts of an answer."""

    says: tuple[Said, ...]
    figures: tuple[Figure, ...]
    moved: tuple[Moved, ...]
    working: tuple[Worked, ...]
    course: Course


def neutralised(start: Basis, key: str, target_mg_l: float, strength: float | None = None) -> Neutralised:
    """From the free chlorine that stands to a lower one. `strength` : purity as a share; None: counted as pure."""
    water, agent, share = start.water, neutraliser_of(key), strength or 1.0
    drop = water.free_chlorine_mg_l - target_mg_l
    doubt = (
        Z95
        * ((start.sigmas.get("free_chlorine_mg_l", 0.0) / drop) ** 2 + (start.sigmas["volume_m3"] / water.volume_m3) ** 2) ** 0.5
    )
    per = drop * water.volume_m3 / share
    least, usual, most = per * agent.g_per_g_least, per * agent.g_per_g, per * agent.g_per_g_most
    first = least * max(LEAST_SHARE, 1.0 - doubt)
    says: list[Said] = [
        answer(
            NEUTRALISE,
            product=agent.words,
            first=measured(first, "g"),
            usual=measured(usual, "g"),
            least=measured(least * max(0.0, 1.0 - doubt), "g"),
            most=measured(most * (1.0 + doubt), "g"),
        )
    ]
    if doubt >= 1.0:
        says.append(warning(IN_DOUBT, drop=round(drop, 1)))
    if key == "peroxide" and strength is None:
        bottle = measured(first / PEROXIDE_SHARE, "g")
        says.append(warning(NEUTRALISER_PURE, bottle=bottle, percent=round(100.0 * PEROXIDE_SHARE)))
    says.append(note(NEUTRALISER_ACID, ta=round(-agent.ta_mg_per_mg * drop, 1)))
    supply = dosing.neutraliser(key, purity_percent=100.0 * share)
    try:
        after = dosing.add(water, supply, usual)
    except ValueError as error:
        raise Refused(str(error)) from error
    moved, more = moves(start, after, after)
    sigma = max(most * (1.0 + doubt) - usual, usual - least * max(0.0, 1.0 - doubt)) / Z95
    return Neutralised(
        (*says, *more),
        (
            Figure("neutraliser, first portion", first, "g"),
            Figure("neutraliser, least", least, "g"),
            Figure("neutraliser, usual", usual, "g", sigma),
        ),
        moved,
        (
            Worked("chlorine to take out: difference x volume", drop * water.volume_m3, "g"),
            Worked("neutraliser per gram of chlorine, usually", agent.g_per_g, "g", agent.source),
            Worked("at least", agent.g_per_g_least, "g"),
            Worked("at most", agent.g_per_g_most, "g"),
            Worked("doubt of test and volume (95 %)", 100.0 * doubt, "%", "taken off the first portion"),
        ),
        _course(start, agent, share, (0.0, first, 0.25 * usual, 0.5 * usual, usual, most)),
    )


def _course(start: Basis, agent: Neutraliser, share: float, grams: tuple[float, ...]) -> Course:
    """Free chlorine after so much of it, with the usual, the least and the most grams that a gram of chlorine may take."""
    water = start.water

    def left(amount: float, per_gram: float) -> float:
        return max(0.0, water.free_chlorine_mg_l - amount * share / per_gram / water.volume_m3)

    rows = tuple(
        (g, left(g, agent.g_per_g), left(g, agent.g_per_g_least), left(g, agent.g_per_g_most)) for g in sorted(set(grams))
    )
    return Course("neutraliser, g", ("likely", "lowest", "highest"), rows)


def neutralise(known: Known, shelf: Shelf, target_mg_l: float) -> Answer:
    """The question "how much of this neutraliser" alone. Raises Refused when the target is not below what is there."""
    start = basis(known, (Field.VOLUME, Field.FREE_CHLORINE), "the amount is the difference to what is there, times the volume")
    checked(Field.FREE_CHLORINE, target_mg_l)
    if not target_mg_l < start.water.free_chlorine_mg_l:
        raise Refused(
            f"free chlorine = {target_mg_l:g} mg/L wanted from {start.water.free_chlorine_mg_l:g}: accepted is 0 to below it; "
            f"{shelf.name} takes chlorine away"
        )
    agent = neutraliser_of(shelf.supply.key)
    share = -shelf.supply.per_unit.free_chlorine_mg_l * agent.g_per_g
    way = neutralised(start, shelf.supply.key, target_mg_l, share)
    return Answer(
        "add",
        (*way.says, *start.says, *shelf.says),
        way.figures,
        way.moved,
        (),
        (*start.working, *way.working),
        notes_for(shelf.supply.key),
        (way.course,),
    )


def spread(start: Basis, shelf: Shelf, amount: float) -> tuple[Said, ...]:
    """What is to be said of an amount of a neutraliser: how much chlorine may be left, and what of it may be too much."""
    agent, water = neutraliser_of(shelf.supply.key), start.water
    takes = -shelf.supply.per_unit.free_chlorine_mg_l * agent.g_per_g * amount / water.volume_m3  # pure agent, g/m3
    low, high = (water.free_chlorine_mg_l - takes / per for per in (agent.g_per_g_least, agent.g_per_g_most))
    says: list[Said] = []
    if start.knows(Field.FREE_CHLORINE):
        says.append(note(SPREAD, low=round(max(0.0, low), 1), high=round(max(0.0, high), 1)))
        if low < 0.0:
            says.append(warning(EXCESS, mg_l=round(-low, 1)))
    return tuple(says)
