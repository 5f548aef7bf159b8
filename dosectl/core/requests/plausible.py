"""What a water test can plausibly say, and which slip of the pen or of the unit would explain what it can't."""

from dataclasses import dataclass

from dosectl.model.water_tests import Quantity


@dataclass(frozen=True, slots=True)
class Span:
    """Bounds of one quantity [unit].

    low, high : beyond these it is a slip unless the person insists
    hard_low, hard_high : beyond these no pool water is
    slips : factors that turn the mistyped figure into the meant one, in the order they are tried, with their words
    """

    unit: str
    low: float
    high: float
    hard_low: float
    hard_high: float
    slips: tuple[tuple[float, str], ...]


TENFOLD = (0.1, "a decimal point slipped")
TENTH = (10.0, "a digit was lost")
GERMAN_DEGREE = (17.85, "it was in °dH")  # 1 °dH is 17.85 mg/L as CaCO3
FRENCH_DEGREE = (10.0, "it was in °fH or mmol/L, or a digit was lost")  # 1 °fH is 10 mg/L as CaCO3

# Bounds: what is met in private outdoor pools. Common practice.
SPANS: dict[Quantity, Span] = {
    Quantity.FREE_CHLORINE: Span("mg/L", 0.0, 15.0, 0.0, 60.0, (TENFOLD,)),
    Quantity.COMBINED_CHLORINE: Span("mg/L", 0.0, 3.0, 0.0, 30.0, (TENFOLD,)),
    Quantity.PH: Span("", 6.2, 9.0, 3.0, 11.0, (TENFOLD, TENTH)),
    Quantity.ALKALINITY: Span("mg/L as CaCO3", 20.0, 300.0, 0.0, 1000.0, (TENFOLD, GERMAN_DEGREE, FRENCH_DEGREE)),
    Quantity.STABILISER: Span("mg/L", 0.0, 200.0, 0.0, 1000.0, (TENFOLD,)),
    Quantity.HARDNESS: Span("mg/L as CaCO3", 20.0, 1200.0, 0.0, 5000.0, (TENFOLD, GERMAN_DEGREE, FRENCH_DEGREE)),
    Quantity.SALT: Span("g/L", 0.0, 12.0, 0.0, 45.0, ((0.001, "it was in mg/L"), TENFOLD, (10.0, "it was in %"))),
    Quantity.WATER_TEMP: Span("°C", 0.0, 40.0, -2.0, 45.0, ()),
}


def guess(quantity: Quantity, value: float) -> tuple[float, str] | None:
    """The likely meant value and the slip, for a value outside the plausible span; None where nothing explains it."""
    span = SPANS[quantity]
    if quantity is Quantity.WATER_TEMP:
        celsius = (value - 32.0) / 1.8
        return (round(celsius, 1), "it was in °F") if span.low < celsius <= span.high else None
    for factor, slip in span.slips:
        meant = value * factor
        if span.low < meant <= span.high:
            return round(meant, 2), slip
    return None
