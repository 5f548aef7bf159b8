"""The ranges this room accepts, and the one way it refuses a number.

A number outside its range is refused, never clamped: a clamped input gives an answer about another water. The
bounds are wide (a badly kept pool must still be computed) but exclude slips of a decimal point and of a unit.
"""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Range:
    """An accepted closed range of one quantity, with its unit."""

    name: str
    low: float
    high: float
    unit: str
    hint: str = ""

    def check(self, value: float) -> float:
        """The value itself; raises ValueError when it is outside, NaN, infinite, or no number at all."""
        # A missing value (None) or a text can't be compared; it is refused by name like any other.
        try:
            if self.low <= value <= self.high and value is not True and value is not False:
                return value
        except TypeError:
            pass
        hint = f"; {self.hint}" if self.hint else ""
        unit = f" {self.unit}" if self.unit else ""
        raise ValueError(f"{self.name} = {value!r}{unit}: accepted is {self.low:g} to {self.high:g}{unit}{hint}")


FREE_CHLORINE = Range("free chlorine", 0.0, 200.0, "mg/L", "give mg/L as Cl2")
HOCL = Range("hypochlorous acid", 0.0, 200.0, "mg/L", "give mg/L as Cl2")
CYANURIC_ACID = Range("cyanuric acid", 0.0, 1000.0, "mg/L")
PH = Range("pH", 0.0, 14.0, "")
WATER_PH = Range("pH", 4.0, 11.0, "", "the water model ends there")
TEMPERATURE = Range("water temperature", 0.0, 50.0, "deg C", "give degrees Celsius")
ALKALINITY = Range("total alkalinity", 0.0, 2000.0, "mg/L", "give mg/L as CaCO3")
ALKALINITY_CHANGE = Range("change of alkalinity", -2000.0, 2000.0, "mg/L", "give mg/L as CaCO3")
HARDNESS = Range("calcium hardness", 0.0, 5000.0, "mg/L", "give mg/L as CaCO3")
DIC = Range("dissolved inorganic carbon", 0.0, 100.0, "mmol/L")
BORATE = Range("borate", 0.0, 500.0, "mg/L", "give mg/L as B")
SALT = Range("salt", 0.0, 50.0, "g/L", "give g/L as NaCl; 3200 mg/L is 3.2 g/L")
IONIC_STRENGTH = Range("ionic strength", 0.0, 1.0, "mol/L")
VOLUME = Range("volume", 1e-3, 1e5, "m3")
DEPTH = Range("depth", 0.05, 10.0, "m")
STRENGTH_G_L = Range("strength", 0.0, 500.0, "g/L")
LEVEL = Range("level", 0.0, 1.0, "", "give a share of full output, not percent")
