"""Too much chlorine: wait, neutralise, or replace water, each with what it costs. And waters to replace for anything that only
fresh water takes out."""

from collections.abc import Sequence
from dataclasses import dataclass

from dosectl.chemistry.answers.dechlorination import NEUTRALISERS, neutraliser_g
from dosectl.chemistry.answers.dechlorination import neutraliser as neutraliser_of
from dosectl.chemistry.changes import dilution, losses
from dosectl.core.advice.answer import Answer, Figure, Said, Worked, answer, measured, note, warning
from dosectl.core.advice.known import Basis, Field, Known, Refused, basis, checked
from dosectl.core.advice.safety import notes_for
from dosectl.model.reasons import Code, ReasonKind

STEP_S = 1800.0
DAYS = 14
NONE_MG_L = 0.05  # what a test calls none; a fading never ends
PEROXIDE_SHARE = 0.35  # by weight, a common bottle
RATE_FACTOR = 1.7
"""A pool's losses lie within this factor of what is expected of them, unless its own log has taught better. Common practice."""

WAIT = ReasonKind(
    Code("advice.wait"),
    "Waiting with nothing fed: from {now} to {target} mg/L in about {likely}, when losses are slow in {slow} ({sun}). Test then.",
)
WAIT_LONG = ReasonKind(
    Code("advice.wait_long"), "Waiting with nothing fed takes more than {days} days from {now} to {target} mg/L ({sun})."
)
STOP_FEEDING = ReasonKind(
    Code("advice.stop_feeding"), "Stop all feeding of chlorine first, the chlorinator too; keep the pump running and people out."
)
OPEN = ReasonKind(Code("advice.open"), "An open cover lets the sun do most of it; it works at noon and not at night.")
NEUTRALISE = ReasonKind(
    Code("advice.neutralise"),
    "Or {product}: {least} first, then mix, test, and repeat. In all it may take {least} to {most}, mostly about {usual}: "
    "too much of it leaves a water that eats the next chlorine.",
)
NEUTRALISER_ACID = ReasonKind(
    Code("advice.neutraliser_acid"), "It takes up to {ta} mg/L of alkalinity with it, so the pH falls a little."
)
NEUTRALISER_PURE = ReasonKind(
    Code("advice.neutraliser_pure"),
    "That is counted as pure, and no bottle is: divide by its strength, so at {percent} % by weight {bottle} first. "
    "It burns skin and eyes and bursts closed vessels: the label comes first.",
)
REPLACE = ReasonKind(
    Code("advice.replace"),
    "Or replace {drained} m3 by draining first and filling then ({overflow} m3 if fresh water runs in at the "
    "full pool and flows over).",
)
REPLACE_ONLY = ReasonKind(
    Code("advice.replace_only"),
    "From {now} to {target} {unit} takes {drained} m3 of {volume} m3 replaced by draining and filling ({low} to "
    "{high} within the "
    "test's doubt), or {overflow} m3 let in at the full pool.",
)
DRAIN_CARE = ReasonKind(
    Code("advice.drain_care"),
    "Before draining: high groundwater lifts an empty shell and a liner can shrink, so drain in parts or ask a licensed trade; "
    "mind where chlorinated or salty water may go by local code.",
)
AFTER_REPLACING = ReasonKind(
    Code("advice.after_replacing"), "Fresh water changes everything else too: test pH, alkalinity, hardness and salt afterwards."
)
HIGH_DOUBT = ReasonKind(
    Code("advice.high_doubt"),
    "Above 10 mg/L a colour test can read low or even none: dilute the sample with tap water, test, and multiply.",
)
NO_PLACE = "clear summer days at 45 degrees of latitude assumed"


@dataclass(frozen=True, slots=True)
class Days:
    """The light to come and the pool's own losses.

    light : share of overhead clear sun, one value per half hour from now (`sunlight.clear_sky_uv` times cloud and cover)
    words : what light that is
    demand_per_day : share of the free chlorine that the dark takes in a day at 25 C; factor : how far the losses may be off
    """

    light: Sequence[float]
    words: str
    demand_per_day: float = 0.15
    factor: float = RATE_FACTOR
    shade: float = 1.0
    depth_m: float = 1.5


def come_down(
    known: Known, target_mg_l: float, days: Days, *, product: str = "thiosulfate_pentahydrate", fill_mg_l: float = 0.0
) -> Answer:
    """From a free chlorine to a lower one. Raises Refused when the target is not below what is there."""
    why = "the curve follows from chlorine, stabiliser and pH"
    start = basis(known, (Field.VOLUME, Field.FREE_CHLORINE, Field.STABILISER), why, (Field.PH, Field.TEMPERATURE))
    water = start.water
    now = water.free_chlorine_mg_l
    checked(Field.FREE_CHLORINE, target_mg_l)
    checked(Field.FREE_CHLORINE, fill_mg_l)
    if not target_mg_l < now:
        raise Refused(
            f"free chlorine = {target_mg_l:g} mg/L wanted from {now:g}: accepted is 0 to below it; ask what to add instead"
        )
    product = product.replace("-", "_")
    if product not in {n.key for n in NEUTRALISERS}:
        raise Refused(f"neutraliser = {product!r}: accepted is one of {', '.join(n.key for n in NEUTRALISERS)}")
    curve, likely_h, slow_h = fall(start, max(target_mg_l, NONE_MG_L), days)
    says: list[Said] = [_wait(now, target_mg_l, likely_h, slow_h, days.words), note(STOP_FEEDING), note(OPEN)]
    least, usual, most = neutraliser_g(product, now - target_mg_l, water.volume_m3)
    agent = neutraliser_of(product)
    says.append(
        answer(
            NEUTRALISE,
            product=agent.words,
            least=measured(least, "g"),
            usual=measured(usual, "g"),
            most=measured(most, "g"),
        )
    )
    if product == "peroxide":
        says.append(
            warning(NEUTRALISER_PURE, bottle=measured(least / PEROXIDE_SHARE, "g"), percent=round(100.0 * PEROXIDE_SHARE))
        )
    says.append(note(NEUTRALISER_ACID, ta=round(-agent.ta_mg_per_mg * (now - target_mg_l), 1)))
    figures = [Figure("neutraliser, least", least, "g"), Figure("neutraliser, usual", usual, "g")]
    if fill_mg_l < target_mg_l:
        drained, overflow = (
            dilution.water_to_replace_m3(now, target_mg_l, water.volume_m3, fill_mg_l, overflow=over) for over in (False, True)
        )
        says += [answer(REPLACE, drained=round(drained, 1), overflow=round(overflow, 1)), note(DRAIN_CARE)]
        figures.append(Figure("water to replace", drained, "m3", drained * start.sigmas["volume_m3"] / water.volume_m3))
    if likely_h is not None:
        figures.append(Figure("wait", likely_h, "h", None if slow_h is None else (slow_h - likely_h) / 1.96))
    if now > 10.0:
        says.append(warning(HIGH_DOUBT))
    working = (
        *start.working,
        Worked("hypochlorous acid now", water.hocl_mg_l, "mg/L", "equilibrium with the stabiliser"),
        Worked("share lost in the dark", 100.0 * days.demand_per_day, "% a day at 25 °C"),
        Worked("losses may be off by a factor of", days.factor, ""),
        Worked("neutraliser per gram of chlorine", agent.g_per_g, "g", agent.source),
    )
    return Answer("come_down", (*says, *start.says), tuple(figures), (), curve, working, notes_for(product))


def fall(
    start: Basis, target_mg_l: float, days: Days
) -> tuple[tuple[tuple[float, float, float], ...], float | None, float | None]:
    """The curve of waiting (hours, likely, slow), and when each meets the target [h], None where not within the light given."""
    water = start.water
    sigma = start.sigmas.get("free_chlorine_mg_l", 0.0)
    lines: list[list[float]] = []
    times: list[float | None] = []
    for begin, slower in ((water.free_chlorine_mg_l, 1.0), (water.free_chlorine_mg_l + 1.96 * sigma, days.factor)):
        site = losses.Site(depth_m=days.depth_m, shade=days.shade / slower, demand_per_day=days.demand_per_day / slower)
        levels, _ = losses.curve_mg_l(
            begin, water.cya_mg_l, water.ph, temp_c=water.temp_c, uv=days.light, step_s=STEP_S, site=site
        )
        lines.append([begin, *levels])
        seconds = losses.time_to_fall_s(levels, STEP_S, begin, target_mg_l)
        times.append(None if seconds is None else seconds / 3600.0)
    every = max(1, len(days.light) // 28)
    curve = tuple((i * STEP_S / 3600.0, lines[0][i], lines[1][i]) for i in range(0, len(lines[0]), every))
    return curve, times[0], times[1]


def replace_water(known: Known, field: Field, target: float, fill: float = 0.0) -> Answer:
    """Least water to replace for what only fresh water takes out: stabiliser, hardness, salt, borate, chlorine, alkalinity."""
    if field in (Field.PH, Field.TEMPERATURE, Field.VOLUME):
        raise Refused(f"{field.value} by fresh water: accepted is something dissolved; the pH follows from what the water holds")
    start = basis(known, (Field.VOLUME, field), "how much is there decides how much water goes")
    checked(field, target)
    checked(field, fill)
    now = float(getattr(start.water, field.value))
    sigma, volume = start.sigmas[field.value], start.water.volume_m3
    drained, overflow = (_replace(now, target, volume, fill, over) for over in (False, True))
    low, high = (_replace(max(target, now + z * sigma), target, volume, fill, False) for z in (-1.96, 1.96))
    unit = {Field.SALT: "g/L"}.get(field, "mg/L")
    first = answer(
        REPLACE_ONLY,
        now=now,
        target=target,
        unit=unit,
        drained=round(drained, 1),
        volume=volume,
        low=round(low, 1),
        high=round(high, 1),
        overflow=round(overflow, 1),
    )
    working = (
        *start.working,
        Worked("fresh water holds", fill, unit),
        Worked("drain and fill: volume x (1 - (target - fill) / (now - fill))", drained, "m3"),
        Worked("overflow: volume x ln((now - fill) / (target - fill))", overflow, "m3"),
    )
    figures = (Figure("water to replace", drained, "m3", (high - low) / 3.92), Figure("by overflow", overflow, "m3"))
    return Answer("replace", (first, note(DRAIN_CARE), note(AFTER_REPLACING), *start.says), figures, (), (), working)


def _replace(now: float, target: float, volume: float, fill: float, overflow: bool) -> float:
    try:
        return dilution.water_to_replace_m3(now, target, volume, fill, overflow=overflow)
    except ValueError as error:
        raise Refused(f"{error}; fresh water can't do more than its own content") from error


def _wait(now: float, target: float, likely_h: float | None, slow_h: float | None, sun: str) -> Said:
    if likely_h is None:
        return answer(WAIT_LONG, days=DAYS, now=now, target=target, sun=sun)
    slow = f"more than {DAYS} days" if slow_h is None else time_words(slow_h)
    return answer(WAIT, now=now, target=target, likely=time_words(likely_h), slow=slow, sun=sun)


def time_words(hours: float) -> str:
    """Hours or days, as a person says them."""
    if hours < 1.0:
        return "1 h"
    return f"{hours:.0f} h" if hours < 36.0 else f"{hours / 24.0:.1f} days"
