"""Too much chlorine: wait, neutralise, or replace water, each with what it costs. And waters to replace for anything that only
fresh water takes out."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from dosectl.chemistry.answers.dechlorination import NEUTRALISERS
from dosectl.chemistry.changes import dilution, losses
from dosectl.core.advice.answer import Answer, Course, Figure, Said, Worked, answer, note, warning
from dosectl.core.advice.known import Basis, Field, Known, Refused, basis, checked
from dosectl.core.advice.neutralising import neutralised
from dosectl.core.advice.safety import notes_for
from dosectl.model.reasons import Code, Fact, ReasonKind

STEP_S = 1800.0
DAYS = 14
ROWS = 13  # of a printed curve
NONE_MG_L = 0.05  # what a test calls none; a fading never ends
RATE_FACTOR = 1.7
"""A pool's losses lie within this factor of what is expected of them, unless its own log has taught better. Common practice."""

WAIT = ReasonKind(
    Code("advice.wait"),
    "Waiting with nothing fed: from {now} to {target} mg/L takes about {likely}; {fast} if losses are fast, {slow} if they "
    "are slow ({sun}). Test in time.",
)
WAIT_LONG = ReasonKind(
    Code("advice.wait_long"), "Waiting with nothing fed takes more than {days} days from {now} to {target} mg/L ({sun})."
)
STOP_FEEDING = ReasonKind(
    Code("advice.stop_feeding"), "Stop all feeding of chlorine first, the chlorinator too; keep the pump running and people out."
)
OPEN = ReasonKind(Code("advice.open"), "An open cover lets the sun do most of it; it works at noon and not at night.")
REPLACE = ReasonKind(
    Code("advice.replace"),
    "Or replace {drained} m3 by draining first and filling then ({low} to {high} m3 with the doubt of test and volume), or "
    "{overflow} m3 if fresh water runs in at the full pool and flows over.",
)
REPLACE_ONLY = ReasonKind(
    Code("advice.replace_only"),
    "From {now} to {target} {unit} takes {drained} m3 of {volume} m3 replaced by draining and filling ({low} to "
    "{high} with the doubt of test and volume), or {overflow} m3 let in at the full pool.",
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
    least = max(target_mg_l, NONE_MG_L)
    curve, likely_h, slow_h = fall(start, least, days)
    fast_h = _falls(start, -1.96, 1.0 / days.factor, least, days)[1]
    says: list[Said] = [_wait(now, target_mg_l, (fast_h, likely_h, slow_h), days.words), note(STOP_FEEDING), note(OPEN)]
    way = neutralised(start, product, target_mg_l)
    says += way.says
    figures, courses = [*way.figures], [way.course]
    if fill_mg_l < target_mg_l:
        facts, figure, course = _replacing(start, Field.FREE_CHLORINE, target_mg_l, fill_mg_l)
        says += [answer(REPLACE, **{key: facts[key] for key in ("drained", "overflow", "low", "high")}), note(DRAIN_CARE)]
        figures.append(figure)
        courses.append(course)
    if likely_h is not None:
        figures.append(Figure("wait", likely_h, "h", None if slow_h is None else (slow_h - likely_h) / 1.96))
    if now > 10.0:
        says.append(warning(HIGH_DOUBT))
    working = (*start.working, *_waited(start, days), *way.working)
    notes = notes_for(product)
    return Answer("come_down", (*says, *start.says), tuple(figures), way.moved, curve, working, notes, tuple(courses))


def _waited(start: Basis, days: Days) -> tuple[Worked, ...]:
    """How the curve of waiting is made: the rates of now, which it takes anew every half hour."""
    water = start.water
    site = losses.Site(depth_m=days.depth_m, shade=days.shade, demand_per_day=days.demand_per_day)
    noon = losses.loss_rate_mg_l_s(
        water.free_chlorine_mg_l, water.cya_mg_l, water.ph, temp_c=water.temp_c, uv=max(days.light, default=0.0), site=site
    )
    return (
        Worked("hypochlorous acid now", water.hocl_mg_l, "mg/L", "equilibrium with the stabiliser, 25 °C"),
        Worked("share lost in the dark", 100.0 * days.demand_per_day, "% a day at 25 °C", "doubles with 10 °C; common practice"),
        Worked("loss in the dark now", 3600.0 * noon.demand, "mg/L an hour"),
        Worked("loss to the highest sun, unbound forms", 3600.0 * noon.sun_free, "mg/L an hour", "Nowell and Hoigne (1992)"),
        Worked("loss to the highest sun, bound forms", 3600.0 * noon.sun_ring, "mg/L an hour", "an estimate of ours"),
        Worked("losses may be off by a factor of", days.factor, "", "common practice"),
    )


def fall(
    start: Basis, target_mg_l: float, days: Days
) -> tuple[tuple[tuple[float, float, float], ...], float | None, float | None]:
    """The curve of waiting (hours, likely, slow), and when each meets the target [h], None where not within the light given."""
    likely, likely_h = _falls(start, 0.0, 1.0, target_mg_l, days)
    slow, slow_h = _falls(start, 1.96, days.factor, target_mg_l, days)
    # As many rows as show the way down to the target, and a little beyond it.
    end = len(likely) - 1 if slow_h is None else min(len(likely) - 1, math.ceil(1.2 * slow_h * 3600.0 / STEP_S))
    every = next((n for n in (1, 2, 4, 6, 8, 12, 24) if end / n <= ROWS), 48)
    curve = tuple((i * STEP_S / 3600.0, likely[i], slow[i]) for i in range(0, end + every, every) if i < len(likely))
    return curve, likely_h, slow_h


def _falls(start: Basis, z: float, slower: float, target_mg_l: float, days: Days) -> tuple[list[float], float | None]:
    """The curve from `z` standard deviations beside the test, with losses so many times slower, and when it is down. [h]"""
    water = start.water
    begin = max(0.0, water.free_chlorine_mg_l + z * start.sigmas.get("free_chlorine_mg_l", 0.0))
    site = losses.Site(depth_m=days.depth_m, shade=min(1.0, days.shade / slower), demand_per_day=days.demand_per_day / slower)
    levels, _ = losses.curve_mg_l(begin, water.cya_mg_l, water.ph, temp_c=water.temp_c, uv=days.light, step_s=STEP_S, site=site)
    seconds = losses.time_to_fall_s(levels, STEP_S, begin, target_mg_l)
    return [begin, *levels], None if seconds is None else seconds / 3600.0


def replace_water(known: Known, field: Field, target: float, fill: float = 0.0) -> Answer:
    """Least water to replace for what only fresh water takes out: stabiliser, hardness, salt, borate, chlorine, alkalinity."""
    if field in (Field.PH, Field.TEMPERATURE, Field.VOLUME):
        raise Refused(f"{field.value} by fresh water: accepted is something dissolved; the pH follows from what the water holds")
    start = basis(known, (Field.VOLUME, field), "how much is there decides how much water goes")
    checked(field, target)
    checked(field, fill)
    facts, figure, course = _replacing(start, field, target, fill)
    unit = str(facts["unit"])
    working = (
        *start.working,
        Worked("fresh water holds", fill, unit),
        Worked("drain and fill: volume x (1 - (target - fill) / (now - fill))", figure.value, "m3"),
        Worked("overflow: volume x ln((now - fill) / (target - fill))", float(facts["overflow"]), "m3"),
    )
    figures = (figure, Figure("by overflow", float(facts["overflow"]), "m3"))
    says = (answer(REPLACE_ONLY, **facts), note(DRAIN_CARE), note(AFTER_REPLACING), *start.says)
    return Answer("replace", says, figures, (), (), working, (), (course,))


def _replacing(start: Basis, field: Field, target: float, fill: float) -> tuple[dict[str, Fact], Figure, Course]:
    """Water to replace with its doubt, and what is left of it after so much."""
    now = float(getattr(start.water, field.value))
    sigma, volume = start.sigmas[field.value], start.water.volume_m3
    drained, overflow = (_replace(now, target, volume, fill, over) for over in (False, True))
    ends = [_replace(max(target, now + z * sigma), target, volume, fill, False) for z in (-1.96, 1.96)]
    by_volume = 1.96 * drained * start.sigmas["volume_m3"] / volume
    low, high = (max(0.0, drained - math.hypot(drained - ends[0], by_volume)), drained + math.hypot(ends[1] - drained, by_volume))
    unit = {Field.SALT: "g/L"}.get(field, "mg/L")
    facts: dict[str, Fact] = {
        "now": now, "target": target, "unit": unit, "drained": round(drained, 1), "volume": volume, "low": round(low, 1),
        "high": round(high, 1), "overflow": round(overflow, 1),
    }  # fmt: skip
    amounts = [drained * i / 4 for i in range(5)] + [drained + (overflow - drained) * i / 2 for i in (1, 2)]
    rows = tuple(
        (m3, fill + (now - fill) * (1.0 - m3 / volume) if m3 <= drained else None, fill + (now - fill) * math.exp(-m3 / volume))
        for m3 in amounts
    )
    course = Course("water replaced, m3", ("drained", "overflow"), rows)
    return facts, Figure("water to replace", drained, "m3", (high - low) / 3.92), course


def _replace(now: float, target: float, volume: float, fill: float, overflow: bool) -> float:
    try:
        return dilution.water_to_replace_m3(now, target, volume, fill, overflow=overflow)
    except ValueError as error:
        raise Refused(f"{error}; fresh water can't do more than its own content") from error


def _wait(now: float, target: float, hours: tuple[float | None, float | None, float | None], sun: str) -> Said:
    """`hours` : with fast, likely and slow losses."""
    if hours[1] is None:
        return answer(WAIT_LONG, days=DAYS, now=now, target=target, sun=sun)
    fast, likely, slow = (f"more than {DAYS} days" if h is None else time_words(h) for h in hours)
    return answer(WAIT, now=now, target=target, fast=fast, likely=likely, slow=slow, sun=sun)


def time_words(hours: float) -> str:
    """Hours or days, as a person says them."""
    if hours < 1.0:
        return "1 h"
    return f"{hours:.0f} h" if hours < 36.0 else f"{hours / 24.0:.1f} days"
