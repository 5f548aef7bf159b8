"""What an addition moves, told only as far as the water is known."""

from dosectl.chemistry import chlorine as chlorine_laws
from dosectl.chemistry.answers.water import Water
from dosectl.core.advice.answer import Moved, Said, note, warning
from dosectl.core.advice.known import ABOUT, Basis, Field
from dosectl.model.reasons import Code, ReasonKind

PH_NEEDS = (Field.PH, Field.ALKALINITY, Field.STABILISER)
HOCL_NEEDS = (Field.FREE_CHLORINE, Field.STABILISER, Field.PH)
INDEX_NEEDS = (*PH_NEEDS, Field.HARDNESS, Field.TEMPERATURE, Field.SALT)

UNTOLD = ReasonKind(
    Code("advice.untold"), "What it does to {what} is not told, because that takes {missing}. Test that if it matters to you."
)
PH_LOW = ReasonKind(
    Code("advice.ph_low"),
    "pH would be {ph}: below 7.0 water hurts eyes, metal and cement. Add less, or bring it back up at once.",
)
PH_HIGH = ReasonKind(
    Code("advice.ph_high"), "pH would be {ph}: above 7.8 it can cloud, scale and sting. Plan acid after it has mixed."
)
ALKALINITY_LOW = ReasonKind(
    Code("advice.alkalinity_low"), "Alkalinity would be {ta} mg/L: below 50 the pH swings with little. Raise it with bicarbonate."
)
SCALES = ReasonKind(
    Code("advice.scales"), "Saturation index would be {index}: above 0.3 chalk settles, first in heaters and chlorinators."
)
STABILISER_STAYS = ReasonKind(
    Code("advice.stabiliser_stays"),
    "It brings {cya} mg/L of stabiliser, and only fresh water takes stabiliser out again. Each further dose adds as much.",
)
CALCIUM_STAYS = ReasonKind(Code("advice.calcium_stays"), "It brings {ch} mg/L of calcium hardness, which stays.")
TEMP_KNOWN_K = 3.0
TEMPERATURE_UNKNOWN = ReasonKind(
    Code("advice.ring_temperature"),
    "Hypochlorous acid is told as at 25 °C. How stabiliser holds chlorine at {temp_c} °C is not published: the true "
    "figure may be "
    "{low} to {high} times as much.",
)
LATER = ReasonKind(
    Code("advice.later"),
    "The pH in the second column is right after mixing; as this chlorine is used up it goes to {ph}. The "
    "lye or filler of a trade product is not counted and leaves it a little higher.",
)

_LINEAR = (
    (Field.FREE_CHLORINE, "free chlorine"),
    (Field.ALKALINITY, "alkalinity"),
    (Field.STABILISER, "stabiliser"),
    (Field.HARDNESS, "hardness"),
    (Field.SALT, "salt"),
    (Field.BORATE, "borate"),
)


def moves(basis: Basis, mixed: Water, settled: Water) -> tuple[tuple[Moved, ...], tuple[Said, ...]]:
    """Each quantity that moves: before, once mixed, once the added chlorine is used; and what to say of it."""
    now = basis.water
    found: list[Moved] = []
    untold: dict[Field, str] = {}
    chlorine = mixed.free_chlorine_mg_l > now.free_chlorine_mg_l
    for field, words in _LINEAR:
        before, after, later = (float(getattr(w, field.value)) for w in (now, mixed, settled))
        if abs(after - before) < 1e-9 and abs(later - before) < 1e-9:
            continue
        if basis.knows(field):
            ends = later if chlorine and field is not Field.FREE_CHLORINE else None
            found.append(Moved(words, ABOUT[field].unit, before, after, ends))
        else:  # the change is known though the level is not
            found.append(
                Moved(f"change of {words}", ABOUT[field].unit, 0.0, after - before, later - before if chlorine else None)
            )
    if basis.knows(*PH_NEEDS):
        found.insert(1, Moved("pH", "", now.ph, mixed.ph, settled.ph if chlorine else None))
    else:
        untold |= {f: "pH" for f in PH_NEEDS if f in basis.guessed}
    if basis.knows(*HOCL_NEEDS):
        found.append(Moved("hypochlorous acid", "mg/L", now.hocl_mg_l, mixed.hocl_mg_l))
    says: list[Said] = []
    if basis.knows(*HOCL_NEEDS, Field.TEMPERATURE) and now.cya_mg_l > 0.0 and abs(now.temp_c - 25.0) > TEMP_KNOWN_K:
        says.append(note(TEMPERATURE_UNKNOWN, temp_c=now.temp_c, **ring_doubt(now)))
    if basis.knows(*INDEX_NEEDS) and now.hardness_mg_l > 0.0:
        index = _index(mixed)
        before_index = _index(now)
        if index is not None and before_index is not None:
            found.append(Moved("saturation index", "", before_index, index))
            if index > 0.3 and index > before_index:
                says.append(warning(SCALES, index=round(index, 2)))
    if untold:
        says.append(note(UNTOLD, what="pH", missing=" and ".join(ABOUT[f].words for f in untold)))
    return tuple(found), (*_about(basis, mixed, settled, chlorine), *says)


def _about(basis: Basis, mixed: Water, settled: Water, chlorine: bool) -> tuple[Said, ...]:
    now = basis.water
    says: list[Said] = []
    if basis.knows(*PH_NEEDS):
        lowest, highest = min(mixed.ph, settled.ph), max(mixed.ph, settled.ph)
        if lowest < 7.0 and lowest < now.ph:
            says.append(warning(PH_LOW, ph=round(lowest, 2)))
        if highest > 7.8 and highest > now.ph + 0.005:
            says.append(warning(PH_HIGH, ph=round(highest, 2)))
        if chlorine and abs(settled.ph - mixed.ph) >= 0.02:
            says.append(note(LATER, ph=round(settled.ph, 2)))
    if basis.knows(Field.ALKALINITY) and min(mixed.ta_mg_l, settled.ta_mg_l) < min(50.0, now.ta_mg_l):
        says.append(warning(ALKALINITY_LOW, ta=round(min(mixed.ta_mg_l, settled.ta_mg_l))))
    if chlorine and mixed.cya_mg_l > now.cya_mg_l:
        says.append(warning(STABILISER_STAYS, cya=round(mixed.cya_mg_l - now.cya_mg_l, 1)))
    if chlorine and mixed.hardness_mg_l > now.hardness_mg_l:
        says.append(note(CALCIUM_STAYS, ch=round(mixed.hardness_mg_l - now.hardness_mg_l, 1)))
    return tuple(says)


def ring_doubt(water: Water) -> dict[str, float]:
    """Factors that hypochlorous acid may be off by, for a sentence."""
    low, high = chlorine_laws.temperature_doubt(max(water.free_chlorine_mg_l, 0.1), water.cya_mg_l, water.ph, water.temp_c)
    return {"low": round(low, 1), "high": round(high, 1)}


def _index(water: Water) -> float | None:
    try:
        return water.saturation_index
    except ValueError:
        return None
