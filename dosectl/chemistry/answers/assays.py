"""How far a water test reaches, and where it misleads. How exact it is stands with the requests that enter it.

All figures are common practice: no peer-reviewed comparison of methods was found.
"""

from dataclasses import dataclass
from enum import StrEnum

from dosectl.chemistry.ranges import Range


class Quantity(StrEnum):
    """What a person can test."""

    FREE_CHLORINE = "free chlorine"
    TOTAL_CHLORINE = "total chlorine"
    PH = "pH"
    ALKALINITY = "total alkalinity"
    CYANURIC_ACID = "cyanuric acid"
    HARDNESS = "calcium hardness"
    SALT = "salt"


class Method(StrEnum):
    """How it was tested."""

    DROPS = "drop titration"  # for chlorine: FAS-DPD
    COLOUR = "colour comparator"
    PHOTOMETER = "photometer"
    STRIP = "test strip"
    TURBIDITY = "turbidity tube"
    METER = "meter"


@dataclass(frozen=True, slots=True)
class Reach:
    """Between `lower` and `upper` [the quantity's unit] a result can be trusted; where it misleads all the same."""

    lower: float
    upper: float
    misleads: str


_CHLORINE_BLEACHES = "above about 10 mg/L the colour bleaches and reads low or none: dilute the sample"
_CYA_DILUTE = "below 30 it can't be told from little, above 100 dilute the sample"
_C = Quantity
_M = Method
_REACH: dict[tuple[Quantity, Method], Reach] = {
    (_C.FREE_CHLORINE, _M.DROPS): Reach(0.0, 50.0, "a drop is 0.2 or 0.5 mg/L, by the sample"),
    (_C.FREE_CHLORINE, _M.COLOUR): Reach(0.2, 5.0, _CHLORINE_BLEACHES),
    (_C.FREE_CHLORINE, _M.PHOTOMETER): Reach(0.05, 10.0, _CHLORINE_BLEACHES),
    (_C.FREE_CHLORINE, _M.STRIP): Reach(0.5, 10.0, "it is 20-50 % off, so it only tells none from some"),
    (_C.PH, _M.DROPS): Reach(6.8, 8.2, "chlorine above 10 mg/L turns the indicator"),
    (_C.PH, _M.COLOUR): Reach(6.8, 8.2, "chlorine above 10 mg/L turns the indicator"),
    (_C.PH, _M.PHOTOMETER): Reach(6.5, 8.4, "low alkalinity shifts it"),
    (_C.PH, _M.STRIP): Reach(6.2, 8.4, "0.2-0.4 off"),
    (_C.PH, _M.METER): Reach(4.0, 10.0, "as good as its last calibration"),
    (_C.ALKALINITY, _M.DROPS): Reach(0.0, 400.0, "a drop is 10 mg/L; chlorine bleaches the indicator"),
    (_C.ALKALINITY, _M.PHOTOMETER): Reach(20.0, 200.0, "cyanurate is counted in"),
    (_C.ALKALINITY, _M.STRIP): Reach(20.0, 240.0, "20-50 % off"),
    (_C.CYANURIC_ACID, _M.TURBIDITY): Reach(30.0, 100.0, _CYA_DILUTE),
    (_C.CYANURIC_ACID, _M.PHOTOMETER): Reach(10.0, 100.0, _CYA_DILUTE),
    (_C.CYANURIC_ACID, _M.STRIP): Reach(30.0, 150.0, "20-50 % off"),
    (_C.HARDNESS, _M.DROPS): Reach(0.0, 1000.0, "a drop is 10 or 25 mg/L"),
    (_C.HARDNESS, _M.PHOTOMETER): Reach(20.0, 500.0, "magnesium may be counted in"),
    (_C.HARDNESS, _M.STRIP): Reach(50.0, 800.0, "total hardness, not calcium"),
    (_C.SALT, _M.METER): Reach(0.2, 10.0, "conductivity, so every ion counts as salt"),
    (_C.SALT, _M.STRIP): Reach(0.4, 7.0, "chloride, told as salt"),
    (_C.SALT, _M.DROPS): Reach(0.2, 10.0, "a drop is 0.2 g/L"),
}


def reach(quantity: Quantity, method: Method) -> Reach:
    """What is known of a method. ValueError names the methods that there are for this quantity."""
    asked = Quantity.FREE_CHLORINE if quantity is Quantity.TOTAL_CHLORINE else quantity
    found = _REACH.get((asked, method))
    if found is None:
        known = ", ".join(m.value for q, m in _REACH if q is asked)
        raise ValueError(f"method = {method.value} for {quantity.value}: accepted is one of {known}")
    return found


def doubt(quantity: Quantity, method: Method, value: float) -> str | None:
    """Why this result may mislead, or None when it lies in the method's range."""
    a = reach(quantity, method)
    if a.lower <= Range(quantity.value, 0.0, 1e5, "").check(value) <= a.upper:
        return None
    return f"{quantity.value} by {method.value} holds from {a.lower:g} to {a.upper:g}; {a.misleads}"
