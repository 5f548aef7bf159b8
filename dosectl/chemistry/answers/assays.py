"""What a water test is worth: its error and where it misleads.

All figures are common practice: no peer-reviewed comparison of methods was found. They are one standard deviation;
a stated "+/- 10 %" is taken as two.
"""

from dataclasses import dataclass
from enum import StrEnum

from dosectl.chemistry import ranges
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
class Accuracy:
    """Standard deviation: the larger of a floor and a share of the value. Beyond `upper` the reading can't be trusted."""

    floor: float
    share: float
    lower: float
    upper: float
    misleads: str


_CHLORINE_BLEACHES = "above about 10 mg/L the colour bleaches and reads low or none: dilute the sample"
_CYA_DILUTE = "below 30 it can't be told from little, above 100 dilute the sample"
_C = Quantity
_M = Method
_ACCURACY: dict[tuple[Quantity, Method], Accuracy] = {
    (_C.FREE_CHLORINE, _M.DROPS): Accuracy(0.15, 0.03, 0.0, 50.0, "a drop is 0.2 or 0.5 mg/L, by the sample"),
    (_C.FREE_CHLORINE, _M.COLOUR): Accuracy(0.2, 0.08, 0.2, 5.0, _CHLORINE_BLEACHES),
    (_C.FREE_CHLORINE, _M.PHOTOMETER): Accuracy(0.1, 0.05, 0.05, 10.0, _CHLORINE_BLEACHES),
    (_C.FREE_CHLORINE, _M.STRIP): Accuracy(0.5, 0.2, 0.5, 10.0, "20-50 % off; tells none from some"),
    (_C.PH, _M.DROPS): Accuracy(0.1, 0.0, 6.8, 8.2, "chlorine above 10 mg/L turns the indicator"),
    (_C.PH, _M.COLOUR): Accuracy(0.1, 0.0, 6.8, 8.2, "chlorine above 10 mg/L turns the indicator"),
    (_C.PH, _M.PHOTOMETER): Accuracy(0.07, 0.0, 6.5, 8.4, "low alkalinity shifts it"),
    (_C.PH, _M.STRIP): Accuracy(0.2, 0.0, 6.2, 8.4, "0.2-0.4 off"),
    (_C.PH, _M.METER): Accuracy(0.05, 0.0, 4.0, 10.0, "as good as its last calibration"),
    (_C.ALKALINITY, _M.DROPS): Accuracy(7.0, 0.03, 0.0, 400.0, "a drop is 10 mg/L; chlorine bleaches the indicator"),
    (_C.ALKALINITY, _M.PHOTOMETER): Accuracy(6.0, 0.05, 20.0, 200.0, "cyanurate is counted in"),
    (_C.ALKALINITY, _M.STRIP): Accuracy(20.0, 0.15, 20.0, 240.0, "20-50 % off"),
    (_C.CYANURIC_ACID, _M.TURBIDITY): Accuracy(7.0, 0.08, 30.0, 100.0, _CYA_DILUTE),
    (_C.CYANURIC_ACID, _M.PHOTOMETER): Accuracy(5.0, 0.08, 10.0, 100.0, _CYA_DILUTE),
    (_C.CYANURIC_ACID, _M.STRIP): Accuracy(20.0, 0.25, 30.0, 150.0, "20-50 % off"),
    (_C.HARDNESS, _M.DROPS): Accuracy(10.0, 0.03, 0.0, 1000.0, "a drop is 10 or 25 mg/L"),
    (_C.HARDNESS, _M.PHOTOMETER): Accuracy(15.0, 0.08, 20.0, 500.0, "magnesium may be counted in"),
    (_C.HARDNESS, _M.STRIP): Accuracy(75.0, 0.2, 50.0, 800.0, "total hardness, not calcium"),
    (_C.SALT, _M.METER): Accuracy(0.1, 0.04, 0.2, 10.0, "conductivity, so every ion counts as salt"),
    (_C.SALT, _M.STRIP): Accuracy(0.2, 0.1, 0.4, 7.0, "chloride, told as salt"),
    (_C.SALT, _M.DROPS): Accuracy(0.1, 0.03, 0.2, 10.0, "a drop is 0.2 g/L"),
}


def accuracy(quantity: Quantity, method: Method) -> Accuracy:
    """What is known of a method. ValueError names the methods that there are for this quantity."""
    asked = Quantity.FREE_CHLORINE if quantity is Quantity.TOTAL_CHLORINE else quantity
    found = _ACCURACY.get((asked, method))
    if found is None:
        known = ", ".join(m.value for q, m in _ACCURACY if q is asked)
        raise ValueError(f"method = {method.value} for {quantity.value}: accepted is one of {known}")
    return found


def sigma(quantity: Quantity, method: Method, value: float) -> float:
    """Standard deviation of one result, in the quantity's unit (chlorine, alkalinity ... mg/L, salt g/L, pH)."""
    if not 0.0 <= value < 1e5:
        raise ValueError(f"{quantity.value} = {value!r}: accepted is 0 or more")
    a = accuracy(quantity, method)
    return max(a.floor, a.share * value)


def combined_sigma_mg_l(method: Method, free_mg_l: float, total_mg_l: float) -> float:
    """Standard deviation of combined chlorine, the difference of two tests. [mg/L]"""
    ranges.FREE_CHLORINE.check(free_mg_l)
    ranges.FREE_CHLORINE.check(total_mg_l)
    a, b = sigma(Quantity.FREE_CHLORINE, method, free_mg_l), sigma(Quantity.TOTAL_CHLORINE, method, total_mg_l)
    return float((a * a + b * b) ** 0.5)


def doubt(quantity: Quantity, method: Method, value: float) -> str | None:
    """Why this result may mislead, or None when it lies in the method's range."""
    a = accuracy(quantity, method)
    if a.lower <= Range(quantity.value, 0.0, 1e5, "").check(value) <= a.upper:
        return None
    return f"{quantity.value} by {method.value} holds from {a.lower:g} to {a.upper:g}; {a.misleads}"
