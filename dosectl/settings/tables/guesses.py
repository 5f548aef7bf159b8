"""What was probably meant: units that look alike, keys that look alike."""

import difflib
import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

L_PER_GAL = 3.785411784  # US gallon
L_PER_FT3 = 28.316846592


@dataclass(frozen=True, slots=True)
class Lookalike:
    """Another unit: its words, the key endings it goes by, and value in our unit = factor * (value + shift)."""

    words: str
    endings: tuple[str, ...]
    factor: float
    shift: float = 0.0

    def converted(self, value: float) -> float:
        """The value in our unit."""
        return self.factor * (value + self.shift)


_DEG_F = Lookalike("degrees Fahrenheit", ("f", "degf", "temp_f"), 1 / 1.8, -32.0)
_KELVIN = Lookalike("kelvin", ("k", "kelvin"), 1.0, -273.15)
_SHARE = Lookalike("as a share", ("share", "ratio"), 100.0)

LOOKALIKES: Mapping[str, tuple[Lookalike, ...]] = {
    "m3": (
        Lookalike("litres", ("l", "litres", "liters"), 0.001),
        Lookalike("US gallons", ("gal", "gallons"), L_PER_GAL / 1000),
        Lookalike("cubic feet", ("ft3", "cuft"), L_PER_FT3 / 1000),
    ),
    "L": (
        Lookalike("millilitres", ("ml",), 0.001),
        Lookalike("US gallons", ("gal", "gallons"), L_PER_GAL),
        Lookalike("m3", ("m3",), 1000.0),
    ),
    "mV": (Lookalike("volts", ("v", "volts"), 1000.0),),
    "V": (Lookalike("millivolts", ("mv",), 0.001),),
    "degC": (_DEG_F, _KELVIN),
    "mL/min": (
        Lookalike("litres per hour", ("l_h", "lph", "l_per_h"), 1000 / 60),
        Lookalike("US gallons per day", ("gpd", "gal_day", "gal_d"), L_PER_GAL * 1000 / 1440),
        Lookalike("US gallons per hour", ("gph", "gal_h"), L_PER_GAL * 1000 / 60),
        Lookalike("millilitres per hour", ("ml_h",), 1 / 60),
        Lookalike("litres per minute", ("l_min",), 1000.0),
    ),
    "L/min": (
        Lookalike("m3 per hour", ("m3_h",), 1000 / 60),
        Lookalike("litres per hour", ("l_h",), 1 / 60),
        Lookalike("US gallons per minute", ("gpm", "gal_min"), L_PER_GAL),
    ),
    "g/L": (
        Lookalike("trade percent", ("percent", "pct"), 10.0),
        Lookalike("mg/L", ("mg_l", "ppm"), 0.001),
    ),
    "trade %": (Lookalike("g/L", ("g_l",), 0.1), _SHARE),
    "% by weight": (_SHARE, Lookalike("g/L", ("g_l",), 0.1)),
    "%": (_SHARE,),
    "mg/L": (
        Lookalike("g/L", ("g_l",), 1000.0),
        Lookalike("percent", ("percent", "pct"), 10_000.0),
        Lookalike("mg/L under its other name", ("ppm",), 1.0),
    ),
    "g/h": (
        Lookalike("grams per day", ("g_d", "g_day"), 1 / 24),
        Lookalike("kilograms per hour", ("kg_h",), 1000.0),
        Lookalike("mg/h", ("mg_h",), 0.001),
    ),
    "kg/L": (Lookalike("kg/m3 or g/L", ("kg_m3", "g_l"), 0.001),),
    "m": (
        Lookalike("centimetres", ("cm",), 0.01),
        Lookalike("feet", ("ft", "feet"), 0.3048),
    ),
    "s": (
        Lookalike("milliseconds", ("ms",), 0.001),
        Lookalike("minutes", ("min", "minutes"), 60.0),
        Lookalike("hours", ("h", "hours"), 3600.0),
    ),
    "h": (
        Lookalike("minutes", ("min", "minutes"), 1 / 60),
        Lookalike("seconds", ("s", "seconds"), 1 / 3600),
        Lookalike("days", ("d", "days"), 24.0),
    ),
    "W": (Lookalike("kilowatts", ("kw",), 1000.0),),
    "A": (Lookalike("milliamperes", ("ma",), 0.001),),
    "1": (Lookalike("percent", ("percent", "pct"), 0.01),),
}

_SAME = {"deg C": "degC", "°C": "degC", "C": "degC", "": "1", "share": "1", "ratio": "1", "ml/min": "mL/min"}

ENDINGS: Mapping[str, tuple[str, ...]] = {
    "m3": ("m3",), "L": ("l",), "mV": ("mv",), "V": ("v",), "degC": ("degc", "c"), "mL/min": ("ml_min",), "L/min": ("l_min",),
    "g/L": ("g_l",), "trade %": ("trade_percent",), "% by weight": ("weight_percent",), "%": ("percent",),
    "mg/L": ("mg_l", "b_mg_l"), "g/h": ("g_h",), "kg/L": ("kg_l",), "m": ("m",), "s": ("s",), "h": ("h",),
    "W": ("w",), "A": ("a",), "1": ("share",),
}  # fmt: skip


def lookalikes_of(unit: str) -> tuple[Lookalike, ...]:
    """Units that are taken for this one. A unit with words behind it ("mg/L TA") counts as its first word."""
    known = _SAME.get(unit, unit)
    if known not in LOOKALIKES:
        known = _SAME.get(unit.split(" ")[0], unit.split(" ")[0]) if unit else known
    return LOOKALIKES.get(known, ())


def unit_guess(value: float, unit: str, low: float, high: float) -> str:
    """A sentence that names the unit in which the value would lie in range, "" where none would.

    Only the first two are named: more is no help.
    """
    if not math.isfinite(value):
        return ""
    fitting = [(other, other.converted(value)) for other in lookalikes_of(unit) if low <= other.converted(value) <= high]
    said = [
        f"{value:g} {other.words} would be {number:.4g}{_spaced(unit)}"
        for other, number in fitting[:2]
        if other.factor != 1.0 or other.shift
    ]
    return "it looks like another unit: " + ", ".join(said) if said else ""


def renamed_guess(key: str, value: object, known: Mapping[str, str]) -> str:
    """What to write instead of a key that has another unit, or none, in its name. `known`: keys of this table with their units.

    "" where no known key has the same stem.
    """
    for name, unit in known.items():
        ending = _ending_of(name, unit)
        if ending is None:
            continue
        stem = name.removesuffix("_" + ending)
        if key == stem:
            return f"every quantity carries its unit in its key: write {name} if it is in {unit}"
        for other in lookalikes_of(unit):
            if any(key == f"{stem}_{end}" for end in other.endings):
                return _converted_words(name, unit, other, value)
    return ""


def nearest(key: str, known: Iterable[str]) -> str | None:
    """The known key that looks most like this one, None where none does."""
    lowered = {name.lower(): name for name in known}
    found = difflib.get_close_matches(key.lower()[:80], lowered, n=1, cutoff=0.6)
    return lowered[found[0]] if found else None


def _converted_words(name: str, unit: str, other: Lookalike, value: object) -> str:
    if isinstance(value, bool) or not isinstance(value, int | float) or abs(value) > 1e30:
        return f"it is wanted in {unit}, as {name}"
    ours = f"{other.converted(float(value)):.4g}"
    return f"{value:g} {other.words} is {ours} {unit}: write {name} = {ours}"


def _ending_of(name: str, unit: str) -> str | None:
    for ending in ENDINGS.get(_SAME.get(unit, unit), ()):
        if name.endswith("_" + ending):
            return ending
    return None


def _spaced(unit: str) -> str:
    return f" {unit}" if unit and unit != "1" else ""
