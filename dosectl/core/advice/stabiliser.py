"""Is there too much stabiliser: for the target to be reached, and for people to swim? Only fresh water takes it out."""

from dataclasses import replace

from dosectl.chemistry import chlorine
from dosectl.chemistry.answers import coming_down as ways
from dosectl.chemistry.answers.water import Water
from dosectl.core.advice.answer import Answer, Figure, Said, Worked, answer, note, warning
from dosectl.core.advice.coming_down import AFTER_REPLACING, DRAIN_CARE, replace_water
from dosectl.core.advice.effects import TEMP_KNOWN_K, TEMPERATURE_UNKNOWN, ring_doubt
from dosectl.core.advice.known import Field, Known, basis, checked
from dosectl.core.advice.swim import FREE_MIN_BARE, FREE_MIN_STABILISED
from dosectl.model.reasons import Code, ReasonKind

HOCL_SALT_MG_L, HOCL_OTHER_MG_L = 0.02, 0.03  # common practice for pools with a chlorinator, and for others
CODE_MAX_MG_L = 90.0  # widely used health code, from memory; WHO has 100
ADVISED_MAX_MG_L = 80.0
LITTLE_MG_L = 20.0

FITS = ReasonKind(
    Code("advice.stabiliser_fits"),
    "Stabiliser {cya} mg/L is workable: {fc} mg/L of free chlorine ({low} to {high} with the test's doubt) will "
    "keep the {hocl} mg/L of hypochlorous acid "
    "aimed for, below the upper "
    "limit of {limit} mg/L.",
)
HOLDABLE = ReasonKind(
    Code("advice.stabiliser_holdable"),
    "Stabiliser {cya} mg/L is too high to rely on: {fc} mg/L of free chlorine ({low} to {high} with the test's "
    "doubt) would just keep the {hocl} mg/L "
    "of hypochlorous acid "
    "aimed for, with little room below the upper limit of {limit} mg/L.",
)
UNREACHABLE = ReasonKind(
    Code("advice.stabiliser_unreachable"),
    "Stabiliser {cya} mg/L is too high: the {hocl} mg/L of hypochlorous acid aimed for would take {fc} mg/L of "
    "free chlorine ({low} to {high} with the test's doubt), above the "
    "upper limit of {limit} mg/L. At {most} mg/L of stabiliser it would just fit.",
)
UNSWIMMABLE = ReasonKind(
    Code("advice.stabiliser_unswimmable"),
    "With {cya} mg/L nobody should swim on chlorine alone: widely used codes end at {code} mg/L, because "
    "chlorine then works too slowly.",
)
REPLACE = ReasonKind(
    Code("advice.stabiliser_replace"),
    "The least water to replace down to {target} mg/L is {drained} m3 of {volume} m3, drained first and filled then "
    "({low} to {high} m3 with the doubt of test and volume), or {overflow} m3 let in at the full pool.",
)
LITTLE = ReasonKind(
    Code("advice.stabiliser_little"),
    "With less than {little} mg/L the sun takes chlorine within hours outdoors, and the target is hard to hold by day.",
)
TURBIDITY = ReasonKind(
    Code("advice.stabiliser_test"),
    "A turbidity tube can't read above 100: dilute the sample half and half with tap water and double.",
)
BARE = ReasonKind(
    Code("advice.stabiliser_bare"),
    "Without stabiliser {fc} mg/L of free chlorine will keep the {hocl} mg/L of hypochlorous acid aimed for by "
    "night, and the sun takes "
    "it within hours by day; the upper limit is {limit} mg/L.",
)
NO_VOLUME = ReasonKind(
    Code("advice.stabiliser_volume"),
    "How much water to replace is not told, because that takes the pool's volume. Give it in m3.",
)
NO_PRODUCT = ReasonKind(
    Code("advice.stabiliser_source"),
    "It comes from stabiliser, dichlor and trichlor: change to another chlorine, or it will come back.",
)


def stabiliser(known: Known, *, salt_pool: bool = True, target_mg_l: float = 50.0, fill_mg_l: float = 0.0) -> Answer:
    """Whether this much stabiliser can be lived with, and the least water to replace if not."""
    start = basis(known, (Field.STABILISER,), "it is the question", (Field.PH,))
    water = start.water
    checked(Field.STABILISER, target_mg_l)
    checked(Field.STABILISER, fill_mg_l)
    wanted = HOCL_SALT_MG_L if salt_pool else HOCL_OTHER_MG_L
    cya, sigma = water.cya_mg_l, start.sigmas["cya_mg_l"]
    needed = chlorine.free_chlorine_for_hocl(wanted, cya, water.ph)
    limit = chlorine.upper_free_chlorine_limit_mg_l(cya)
    reachable = needed <= limit
    most = _most(water, wanted)
    says: list[Said] = []
    facts = {
        "cya": cya,
        "fc": round(max(needed, FREE_MIN_STABILISED if cya > 0.0 else FREE_MIN_BARE), 1),
        "hocl": wanted,
        "limit": limit,
    }
    least = FREE_MIN_STABILISED if cya > 0.0 else FREE_MIN_BARE
    ends = [chlorine.free_chlorine_for_hocl(wanted, max(0.0, cya + z * sigma), water.ph) for z in (-1.96, 1.96)]
    facts |= {"low": round(max(ends[0], least), 1), "high": round(max(ends[1], least), 1)}
    says.append(
        answer(BARE if cya == 0.0 else HOLDABLE if cya > CODE_MAX_MG_L else FITS, **facts)
        if reachable
        else answer(UNREACHABLE, **facts, most=round(most))
    )
    if cya > CODE_MAX_MG_L:
        says.append(warning(UNSWIMMABLE, cya=cya, code=CODE_MAX_MG_L))
    figures = [
        Figure("free chlorine for the aim", needed, "mg/L", needed * sigma / max(cya, 1.0)),
        Figure("upper limit", limit, "mg/L"),
    ]
    working = [
        *start.working,
        Worked("hypochlorous acid aimed for", wanted, "mg/L", "common practice"),
        Worked("free chlorine that gives it, 25 °C constants", needed, "mg/L", "equilibrium with the stabiliser"),
        Worked("upper limit: 0.4 x stabiliser, within 5 and 10", limit, "mg/L", "common practice and codes"),
        Worked("most stabiliser at which the aim fits under the limit", most, "mg/L"),
    ]
    if not reachable or cya > ADVISED_MAX_MG_L:
        says += _fresh(known, target_mg_l, fill_mg_l, figures)
    if Field.TEMPERATURE in known and abs(water.temp_c - 25.0) > TEMP_KNOWN_K and cya > 0.0:
        says.append(note(TEMPERATURE_UNKNOWN, temp_c=water.temp_c, **ring_doubt(water)))
    if 0.0 < cya < LITTLE_MG_L:
        says.append(note(LITTLE, little=LITTLE_MG_L))
    if cya > 90.0:
        says.append(note(TURBIDITY))
    return Answer("stabiliser", (*says, *start.says), tuple(figures), (), (), tuple(working))


def _most(water: Water, wanted: float) -> float:
    return ways.stabiliser_for(replace(water, cya_mg_l=0.0), wanted).cya_mg_l_max


def _fresh(known: Known, target: float, fill: float, figures: list[Figure]) -> list[Said]:
    """The least water to replace, where the volume is known."""
    if Field.VOLUME not in known:
        return [note(NO_VOLUME), note(DRAIN_CARE), note(NO_PRODUCT)]
    asked = replace_water(known, Field.STABILISER, target, fill)
    facts = dict(asked.says[0].facts)
    figures += asked.figures
    said = answer(REPLACE, **{k: facts[k] for k in ("target", "drained", "volume", "low", "high", "overflow")})
    return [said, note(DRAIN_CARE), note(AFTER_REPLACING), note(NO_PRODUCT)]
