"""What is known of a water: each value with its doubt and where it comes from. What is not known stays unknown."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from enum import StrEnum
from math import isfinite

from dosectl.chemistry.answers.water import Water
from dosectl.core.advice.answer import Said, Worked, note, warning
from dosectl.core.estimate.state import WaterView
from dosectl.core.requests.methods import methods_for, sigma_of
from dosectl.core.requests.plausible import SPANS, guess
from dosectl.core.site import Site
from dosectl.model.reasons import Code, ReasonKind
from dosectl.model.water_tests import Quantity, WaterTest

VOLUME_DOUBT_SHARE = 0.1
"""Of a volume from length, width and mean depth, as one standard deviation. Common practice."""


class Refused(ValueError):
    """The question can't be answered from this. The text says what to do."""


class Field(StrEnum):
    """A value of the water; the text is that of `chemistry.answers.water.Water`."""

    VOLUME = "volume_m3"
    FREE_CHLORINE = "free_chlorine_mg_l"
    PH = "ph"
    ALKALINITY = "ta_mg_l"
    STABILISER = "cya_mg_l"
    HARDNESS = "hardness_mg_l"
    SALT = "salt_g_l"
    TEMPERATURE = "temp_c"
    BORATE = "borate_b_mg_l"


@dataclass(frozen=True, slots=True)
class About:
    """A field in words. `stand_in` is taken where the value only colours side effects; those are then not told."""

    words: str
    unit: str
    quantity: Quantity | None
    stand_in: float


ABOUT: Mapping[Field, About] = {
    Field.VOLUME: About("pool volume", "m3", None, 50.0),
    Field.FREE_CHLORINE: About("free chlorine", "mg/L", Quantity.FREE_CHLORINE, 2.0),
    Field.PH: About("pH", "", Quantity.PH, 7.5),
    Field.ALKALINITY: About("total alkalinity", "mg/L", Quantity.ALKALINITY, 100.0),
    Field.STABILISER: About("stabiliser", "mg/L", Quantity.STABILISER, 0.0),
    Field.HARDNESS: About("calcium hardness", "mg/L", Quantity.HARDNESS, 0.0),
    Field.SALT: About("salt", "g/L", Quantity.SALT, 0.0),
    Field.TEMPERATURE: About("water temperature", "°C", Quantity.WATER_TEMP, 25.0),
    Field.BORATE: About("borate (as boron)", "mg/L", None, 0.0),
}
_BOUNDS: Mapping[Field, tuple[float, float, str]] = {
    Field.VOLUME: (0.2, 5000.0, "give cubic metres; 50000 L are 50 m3"),
    Field.BORATE: (0.0, 150.0, "give mg/L of boron; borax and boric acid hold 11 and 17 % of it"),
}
_USUAL_METHOD = {Field.STABILISER: "turbidity", Field.TEMPERATURE: "meter", Field.SALT: "meter"}
UNUSUAL = ReasonKind(
    Code("advice.unusual"),
    "{what} of {value} {unit} is unusual for a pool ({low} to {high}). {guess}Read it again before you act.",
)
TAKEN = ReasonKind(
    Code("advice.taken"), "Not given, so taken as usual: {what}. Give it if you know it: the range told does not hold this doubt."
)


@dataclass(frozen=True, slots=True)
class Value:
    """A value with its standard deviation and its source in words ("given, by drops", "the controller's estimate")."""

    value: float
    sigma: float
    source: str


Known = Mapping[Field, Value]


def given(field: Field, value: float, method: str | None = None, doubt: float | None = None) -> Value:
    """A value that a person gives. Its doubt is that of the method, of the usual one where none is said.

    Raises Refused where the value is no pool's, or the method can't measure it.
    """
    checked(field, value)
    about = ABOUT[field]
    if doubt is not None:
        if not (isfinite(doubt) and doubt >= 0.0):
            raise Refused(f"doubt of {about.words} = {doubt!r}: accepted is 0 or more {about.unit}")
        if doubt > 0.5 * value:
            raise Refused(
                f"doubt of {about.words} = {doubt:g} {about.unit}: accepted is at most half of it; measure it before you dose"
            )
        return Value(value, doubt, "given")
    if field is Field.VOLUME:
        return Value(value, VOLUME_DOUBT_SHARE * value, "given, within 10 %")
    if about.quantity is None:
        return Value(value, 0.15 * value, "given")
    by = method or _USUAL_METHOD.get(field, "drops")
    sigma = sigma_of(about.quantity, by, value)
    if sigma is None:
        raise Refused(f"method of {about.words} = {by!r}: accepted is one of {', '.join(methods_for(about.quantity))}")
    return Value(value, sigma, f"given, by {by}" if method else f"given, taken as by {by}")


def checked(field: Field, value: float) -> float:
    """The value; Refused where no pool's water is like that."""
    about = ABOUT[field]
    if about.quantity is None:
        low, high, hint = _BOUNDS[field]
    else:
        span = SPANS[about.quantity]
        low, high = span.hard_low, span.hard_high
        hint = _hint(field, value)
    if isinstance(value, bool) or not isinstance(value, int | float) or not (isfinite(value) and low <= value <= high):
        unit = f" {about.unit}" if about.unit else ""
        raise Refused(f"{about.words} = {value!r}{unit}: accepted is {low:g} to {high:g}{unit}; {hint}")
    return float(value)


def _hint(field: Field, value: float) -> str:
    quantity = ABOUT[field].quantity
    meant = guess(quantity, value) if quantity is not None and isinstance(value, float) and isfinite(value) else None
    return f"did you mean {meant[0]:g} ({meant[1]})?" if meant else "test again and look at the unit"


def from_site(site: Site) -> dict[Field, Value]:
    """What the settings say of the pool. Typed-in figures are doubted like a test by strips."""
    pool = site.pool
    found = {Field.VOLUME: Value(pool.volume_m3, VOLUME_DOUBT_SHARE * pool.volume_m3, "the settings")}
    for field, value in (
        (Field.STABILISER, pool.stabiliser_mg_l),
        (Field.ALKALINITY, pool.alkalinity_mg_l),
        (Field.HARDNESS, pool.hardness_mg_l),
        (Field.SALT, pool.salt_g_l),
        (Field.BORATE, pool.borate_b_mg_l),
    ):
        quantity = ABOUT[field].quantity
        sigma = 0.15 * value if quantity is None else sigma_of(quantity, "strips", value) or 0.0
        found[field] = Value(value, sigma, "the settings")
    return found


def current(site: Site, view: WaterView, tests: Iterable[WaterTest] = ()) -> dict[Field, Value]:
    """The water as the controller believes it: its estimate, newest tests for what it does not estimate, else the settings."""
    found = from_site(site)
    newest = {test.quantity: test for test in sorted(tests, key=lambda t: t.taken_s) if not test.withdrawn}
    for field in (Field.HARDNESS, Field.SALT):
        quantity = ABOUT[field].quantity
        if quantity in newest:
            test = newest[quantity]
            found[field] = Value(test.value, test.sigma, f"your test by {test.method}")
    own = "the controller's estimate"
    found[Field.FREE_CHLORINE] = Value(view.free_chlorine_mg_l, view.sigma_mg_l, own)
    found[Field.PH] = Value(view.ph, view.ph_sigma, own)
    found[Field.STABILISER] = Value(view.cya_mg_l, view.cya_sigma, own)
    found[Field.ALKALINITY] = Value(view.alkalinity_mg_l, view.alkalinity_sigma, own)
    found[Field.TEMPERATURE] = Value(view.temp_c, 0.5, own)
    return found


@dataclass(frozen=True, slots=True)
class Basis:
    """A water to compute with. `guessed` fields are stand-ins: whatever rests on them is not told."""

    water: Water
    sigmas: Mapping[str, float]
    guessed: frozenset[Field]
    says: tuple[Said, ...]
    working: tuple[Worked, ...]

    def knows(self, *fields: Field) -> bool:
        """Whether all of these were given."""
        return not self.guessed.intersection(fields)


def value_of(known: Known, field: Field, why: str) -> Value:
    """A value that the answer hangs on. Raises Refused, with why it is needed, where it is not known."""
    if field not in known:
        raise Refused(f"{ABOUT[field].words} = unknown: accepted is a value [{ABOUT[field].unit or 'pH'}]; {why}")
    checked(field, known[field].value)
    return known[field]


def basis(known: Known, needs: tuple[Field, ...], why: str, weak: tuple[Field, ...] = ()) -> Basis:
    """The water, with stand-ins for what is neither known nor needed.

    needs : fields that decide the answer; `weak` ones move it a little and are then named as taken
    """
    for field in needs:
        value_of(known, field, why)
    values = {field: known[field].value if field in known else about.stand_in for field, about in ABOUT.items()}
    for field, value in values.items():
        checked(field, value)
    guessed = frozenset(field for field in Field if field not in known)
    says = list(oddities(known))
    missing = [field for field in weak if field in guessed]
    if missing:
        what = ", ".join(f"{ABOUT[f].words} {ABOUT[f].stand_in:g} {ABOUT[f].unit}".rstrip() for f in missing)
        says.append(note(TAKEN, what=what))
    try:
        water = Water(**{field.value: value for field, value in values.items()})
    except ValueError as error:
        raise Refused(str(error)) from error
    working = tuple(
        Worked(ABOUT[f].words, known[f].value, ABOUT[f].unit, f"± {known[f].sigma:.2g}, {known[f].source}")
        for f in Field
        if f in known
    )
    return Basis(water, {f.value: known[f].sigma for f in Field if f in known}, guessed, tuple(says), working)


def oddities(known: Known) -> tuple[Said, ...]:
    """Warnings for values that a pool may have but seldom has."""
    found: list[Said] = []
    for field, value in known.items():
        quantity = ABOUT[field].quantity
        if quantity is None:
            continue
        span = SPANS[quantity]
        if not span.low <= value.value <= span.high:
            meant = guess(quantity, value.value)
            hint = "" if meant is None else f"Perhaps {meant[1]}: {meant[0]:g}? "
            about = ABOUT[field]
            found.append(
                warning(UNUSUAL, what=about.words, value=value.value, unit=about.unit, low=span.low, high=span.high, guess=hint)
            )
    return tuple(found)
