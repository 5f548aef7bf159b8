"""How exact a water test is, by its method: standard uncertainty of a result.

Source of the figures marked (table): common practice for pool test methods (colour comparison +/- 10 % or 0.2 to 0.3 mg/L, drop
titration one drop, strips +/- 20 to 50 % and pH +/- 0.2 to 0.4, turbidity +/- 10 to 15 mg/L); no peer-reviewed comparison
is known. The rest is from memory, unchecked.
A stated +/- is taken as one standard deviation: it errs to trusting a test too little.
"""

from dataclasses import dataclass

from dosectl.model.water_tests import Quantity

FC, CC, PH = Quantity.FREE_CHLORINE, Quantity.COMBINED_CHLORINE, Quantity.PH
TA, CYA, CH = Quantity.ALKALINITY, Quantity.STABILISER, Quantity.HARDNESS


@dataclass(frozen=True, slots=True)
class Method:
    """Sigma of a result = the larger of `absolute` [the quantity's unit] and `relative` times the value."""

    name: str
    quantity: Quantity
    absolute: float
    relative: float


METHODS: tuple[Method, ...] = (
    Method("colour", FC, 0.25, 0.10),  # table
    Method("colour", CC, 0.30, 0.10),  # table
    Method("drops", FC, 0.25, 0.05),  # table: 0.2 or 0.5 mg/L a drop
    Method("drops", CC, 0.35, 0.05),  # table: difference of two drops
    Method("photometer", FC, 0.10, 0.10),
    Method("photometer", CC, 0.15, 0.15),
    Method("photometer", PH, 0.10, 0.0),
    Method("photometer", TA, 10.0, 0.10),
    Method("photometer", CYA, 10.0, 0.15),
    Method("photometer", CH, 20.0, 0.15),
    Method("strips", FC, 0.50, 0.35),  # table
    Method("strips", CC, 0.50, 0.50),  # table
    Method("strips", PH, 0.30, 0.0),  # table
    Method("strips", TA, 20.0, 0.35),  # table
    Method("strips", CYA, 20.0, 0.50),  # table
    Method("strips", CH, 50.0, 0.35),  # table
    Method("strips", Quantity.SALT, 0.4, 0.20),  # table
    Method("colour", PH, 0.15, 0.0),
    Method("drops", PH, 0.15, 0.0),
    Method("drops", TA, 10.0, 0.05),  # table: one drop = 10
    Method("drops", CH, 25.0, 0.05),  # table: one drop = 10 or 25
    Method("drops", Quantity.SALT, 0.2, 0.05),
    Method("turbidity", CYA, 12.5, 0.15),  # table
    Method("meter", PH, 0.05, 0.0),
    Method("meter", Quantity.SALT, 0.1, 0.05),
    Method("meter", Quantity.WATER_TEMP, 0.5, 0.0),
    Method("laboratory", PH, 0.05, 0.0),
    Method("laboratory", TA, 3.0, 0.03),
    Method("laboratory", CYA, 3.0, 0.05),
    Method("laboratory", CH, 5.0, 0.05),
    Method("laboratory", Quantity.SALT, 0.05, 0.03),
)

METHOD_NAMES: tuple[str, ...] = tuple(dict.fromkeys(method.name for method in METHODS))


def methods_for(quantity: Quantity) -> tuple[str, ...]:
    """Names of the methods that can measure a quantity."""
    return tuple(method.name for method in METHODS if method.quantity is quantity)


def sigma_of(quantity: Quantity, method: str, value: float) -> float | None:
    """Standard uncertainty of a result, in the quantity's unit; None where the method does not measure that quantity."""
    for row in METHODS:
        if row.name == method and row.quantity is quantity:
            return max(row.absolute, row.relative * abs(value))
    return None
