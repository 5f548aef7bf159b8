"""Is the water fit to swim in now, and when will it be? It only finds reasons against; it never says that water is safe."""

from dataclasses import dataclass

from dosectl.chemistry import chlorine
from dosectl.core.advice.answer import Z95, Answer, Figure, Said, Worked, answer, note
from dosectl.core.advice.coming_down import Days, fall, time_words
from dosectl.core.advice.known import Basis, Field, Known, Refused, basis
from dosectl.model.reasons import Code, ReasonKind

# US model code and home-pool advice of public health, from memory: free chlorine 1 mg/L, 2 with stabiliser; pH 7.0-7.8;
# combined 0.4; stabiliser 90. Hypochlorous acid: common practice holds 0.02, half of it is taken as the least.
FREE_MIN_BARE, FREE_MIN_STABILISED = 1.0, 2.0
HOCL_MIN_MG_L = 0.01
PH_LOW, PH_HIGH = 7.0, 7.8
COMBINED_MAX = 0.4
STABILISER_MAX = 90.0
TEMP_MAX_C = 40.0
AGE_MAX_H = 24.0
TURNOVER_MIN_H = 1.0  # no home pool mixes faster; common practice is 4 to 12 h

NOT_NOW = ReasonKind(Code("advice.swim_not"), "Not now. Against it: {count}.")
NO_REASON = ReasonKind(
    Code("advice.swim_none_found"),
    "No reason against it found in these figures. That is less than safe: it holds only if the conditions below do.",
)
UNKNOWN = ReasonKind(Code("swim.unknown"), "{what} is not known, and unknown is never fit. When: after a test.")
UNSEEN = ReasonKind(
    Code("swim.unseen"),
    "Nobody has said whether the drain can be seen plainly, and unknown is never fit. When: once somebody has looked and it can.",
)
OLD = ReasonKind(Code("swim.old"), "The figures are {age_h} h old; chlorine can go in an afternoon. When: after a fresh test.")
TOO_LITTLE = ReasonKind(
    Code("swim.too_little"),
    "Free chlorine may be as low as {low} mg/L; at least {least} is asked for in this water. When: once it is "
    "raised, mixed for a full "
    "turnover and tested.",
)
TOO_WEAK = ReasonKind(
    Code("swim.too_weak"),
    "With {cya} mg/L of stabiliser so little of the chlorine may be at work ({hocl} mg/L of hypochlorous acid) "
    "that germs live too long. "
    "When: at {needed} mg/L of free chlorine or with less stabiliser.",
)
TOO_MUCH = ReasonKind(
    Code("swim.too_much"),
    "Free chlorine may be as high as {high} mg/L, above the upper limit of {limit}. When: below it by test, in "
    "about {likely} with nothing fed, or {slow} if losses are slow.",
)
PH_OFF = ReasonKind(
    Code("swim.ph"),
    "pH may be {value}, outside {low} to {high}. When: once it is corrected, mixed for a full turnover and tested.",
)
COMBINED = ReasonKind(
    Code("swim.combined"),
    "Combined chlorine of {value} mg/L is above {most}. When: sun, air and fresh water have brought it below.",
)
STABILISER = ReasonKind(
    Code("swim.stabiliser"),
    "Stabiliser of {value} mg/L is above the {most} of widely used codes. When: some water has been replaced.",
)
HOT = ReasonKind(Code("swim.hot"), "Water of {value} °C is too hot for anyone. When: at {most} °C or below; less for children.")
CLOUDY = ReasonKind(
    Code("swim.cloudy"),
    "The drain can't be seen plainly: a person under water would not be seen either. When: the water is clear.",
)
ADDED = ReasonKind(
    Code("swim.added"), "Something was added {hours} h ago. When: after a full turnover of {turnover_h} h and a test."
)
FOULED = ReasonKind(
    Code("swim.fouled"), "After vomit or diarrhoea local codes rule how long and how high chlorine must stand. When: as they say."
)
CONDITIONS = ReasonKind(
    Code("swim.conditions"),
    "Conditions: the drain is plainly visible, nothing was added within a turnover, covers of drains are whole, "
    "children are watched "
    "without a break, no thunder, nobody with diarrhoea swims.",
)
NO_COMBINED = ReasonKind(Code("swim.no_combined"), "Combined chlorine is not known: where it smells or stings, nobody swims.")
DEFER = ReasonKind(
    Code("swim.codes"),
    "Local codes and product labels come first, and stricter ones hold. Chlorine does not stop every germ at once.",
)
TEMPERATURE_NOTE = ReasonKind(
    Code("swim.temperature"),
    "How fast chlorine on stabiliser works away from 25 °C is not published; colder water works more slowly.",
)


@dataclass(frozen=True, slots=True)
class Circumstances:
    """What figures do not say. None is not known.

    combined_mg_l : total less free chlorine; clear : the drain is plainly visible
    added_h_ago : hours since anything was added by hand; age_h : of the oldest of the figures
    """

    combined_mg_l: float | None = None
    clear: bool | None = None
    added_h_ago: float | None = None
    turnover_h: float = 6.0
    age_h: float = 0.0
    fouled: bool = False


NORMAL = Circumstances()


def swim(known: Known, around: Circumstances = NORMAL, days: Days | None = None) -> Answer:
    """Reasons against swimming now, each with when it ends. `days` is the light for the time that too much chlorine takes."""
    for name in ("combined_mg_l", "added_h_ago", "turnover_h", "age_h"):
        value = getattr(around, name)
        if value is not None and not 0.0 <= value < 1e4:
            words = {"combined_mg_l": "combined chlorine [mg/L]", "added_h_ago": "hours since something was added"}
            raise Refused(f"{words.get(name, name.replace('_h', ' [h]'))} = {value!r}: accepted is 0 or more")
    if around.turnover_h < TURNOVER_MIN_H:
        raise Refused(
            f"full turnover = {around.turnover_h:g} h: accepted is {TURNOVER_MIN_H:g} or more; it is the pool's volume over the "
            "pump's flow"
        )
    against: list[Said] = []
    missing = [field for field in (Field.FREE_CHLORINE, Field.PH, Field.STABILISER) if field not in known]
    against += [answer(UNKNOWN, what=_word(field)) for field in missing]
    start = basis(known, (), "")
    if around.age_h > AGE_MAX_H:
        against.append(answer(OLD, age_h=round(around.age_h)))
    if Field.FREE_CHLORINE in known and Field.STABILISER in known:
        against += _chlorine(start, days)
    if Field.PH in known:
        against += _ph(start)
    against += _rest(known, start, around)
    first = (
        answer(NOT_NOW, count="one reason" if len(against) == 1 else f"{len(against)} reasons") if against else answer(NO_REASON)
    )
    notes: list[Said] = [*start.says, note(CONDITIONS), note(DEFER)]
    if around.combined_mg_l is None:
        notes.insert(0, note(NO_COMBINED))
    if Field.TEMPERATURE in known and abs(start.water.temp_c - 25.0) > 3.0 and start.water.cya_mg_l > 0.0:
        notes.append(note(TEMPERATURE_NOTE))
    figures = (Figure("reasons against", float(len(against)), ""),)
    return Answer("swim", (first, *against, *notes), figures, (), (), (*start.working, *_working(known, start)))


def fit(result: Answer) -> bool:
    """Whether nothing was found against it."""
    return NO_REASON.code in result.codes()


def _word(field: Field) -> str:
    return {Field.FREE_CHLORINE: "Free chlorine", Field.PH: "pH", Field.STABILISER: "Stabiliser"}[field]


def _bounds(start: Basis) -> tuple[float, float, float, float]:
    """Free chlorine with 95 % either way; stabiliser and pH one standard deviation up: all at their worst at once is rare."""
    water, sigmas = start.water, start.sigmas
    doubt = Z95 * sigmas.get("free_chlorine_mg_l", 0.0)
    return (
        max(0.0, water.free_chlorine_mg_l - doubt),
        water.free_chlorine_mg_l + doubt,
        water.cya_mg_l + sigmas.get("cya_mg_l", 0.0),
        water.ph + sigmas.get("ph", 0.0),
    )


def _chlorine(start: Basis, days: Days | None) -> list[Said]:
    water = start.water
    low, high, cya, ph = _bounds(start)
    found: list[Said] = []
    least = FREE_MIN_STABILISED if water.cya_mg_l > 0.0 else FREE_MIN_BARE
    hocl = chlorine.hocl_mg_l(low, cya, ph)
    if low < least:
        found.append(answer(TOO_LITTLE, low=round(low, 1), least=least))
    elif hocl < HOCL_MIN_MG_L:
        needed = chlorine.free_chlorine_for_hocl(HOCL_MIN_MG_L, cya, ph)
        found.append(answer(TOO_WEAK, cya=round(water.cya_mg_l), hocl=round(hocl, 4), needed=round(needed, 1)))
    limit = _limit(start)
    if high > limit:
        likely = slow = "a time that only tests tell"
        if days is not None:
            _, likely_h, slow_h = fall(start, limit, days)
            likely = "more than two weeks" if likely_h is None else time_words(likely_h)
            slow = "more than two weeks" if slow_h is None else time_words(slow_h)
        found.append(answer(TOO_MUCH, high=round(high, 1), limit=limit, likely=likely, slow=slow))
    return found


def _limit(start: Basis) -> float:
    """Upper limit for the least stabiliser, one standard deviation down: less of it leaves more chlorine at work. [mg/L]"""
    return chlorine.upper_free_chlorine_limit_mg_l(max(0.0, start.water.cya_mg_l - start.sigmas.get("cya_mg_l", 0.0)))


def _ph(start: Basis) -> list[Said]:
    value, sigma = start.water.ph, start.sigmas.get("ph", 0.0)
    worst = value - sigma if value < 7.4 else value + sigma
    if PH_LOW <= value <= PH_HIGH and PH_LOW - 0.1 <= worst <= PH_HIGH + 0.1:
        return []
    return [answer(PH_OFF, value=round(value if not PH_LOW <= value <= PH_HIGH else worst, 2), low=PH_LOW, high=PH_HIGH)]


def _rest(known: Known, start: Basis, around: Circumstances) -> list[Said]:
    found: list[Said] = []
    if around.combined_mg_l is not None and around.combined_mg_l > COMBINED_MAX:
        found.append(answer(COMBINED, value=around.combined_mg_l, most=COMBINED_MAX))
    if Field.STABILISER in known and start.water.cya_mg_l > STABILISER_MAX:
        found.append(answer(STABILISER, value=round(start.water.cya_mg_l), most=STABILISER_MAX))
    if Field.TEMPERATURE in known and start.water.temp_c > TEMP_MAX_C:
        found.append(answer(HOT, value=start.water.temp_c, most=TEMP_MAX_C))
    if around.clear is None:
        found.append(answer(UNSEEN))
    if around.clear is False:
        found.append(answer(CLOUDY))
    if around.added_h_ago is not None and around.added_h_ago < around.turnover_h:
        found.append(answer(ADDED, hours=around.added_h_ago, turnover_h=around.turnover_h))
    if around.fouled:
        found.append(answer(FOULED))
    return found


def _working(known: Known, start: Basis) -> tuple[Worked, ...]:
    if Field.FREE_CHLORINE not in known or Field.STABILISER not in known:
        return ()
    low, high, cya, ph = _bounds(start)
    return (
        Worked("free chlorine, lowest with 95 %", low, "mg/L"),
        Worked("free chlorine, highest with 95 %", high, "mg/L"),
        Worked(
            "hypochlorous acid at that, stabiliser and pH one standard deviation up", chlorine.hocl_mg_l(low, cya, ph), "mg/L"
        ),
        Worked("upper limit of this water, one standard deviation less stabiliser", _limit(start), "mg/L"),
    )
