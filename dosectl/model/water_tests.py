"""A water test done by hand: durable evidence of its own kind, never a sample."""

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

from dosectl.model.requests import RequestId


class Quantity(StrEnum):
    FREE_CHLORINE = "free_chlorine"  # mg/L as Cl2
    COMBINED_CHLORINE = "combined_chlorine"  # mg/L as Cl2
    PH = "ph"
    ALKALINITY = "alkalinity"  # total, mg/L as CaCO3
    STABILISER = "stabiliser"  # cyanuric acid, mg/L
    HARDNESS = "hardness"  # calcium, mg/L as CaCO3
    SALT = "salt"  # g/L
    WATER_TEMP = "water_temp"  # deg C


@dataclass(frozen=True, slots=True)
class WaterTest:
    """One result of one quantity.

    value, sigma : in the quantity's unit; sigma is the method's standard uncertainty
    taken_s : plant clock [s] when the water was taken; entered_s : when it was typed in
    """

    request: RequestId
    quantity: Quantity
    value: float
    sigma: float
    method: str
    taken_utc: datetime
    taken_s: float
    entered_s: float
    by: str
    withdrawn: bool = False


@dataclass(frozen=True, slots=True)
class Foretold:
    """What was believed of the water just before a test of it was entered, so that the two can be compared.

    value : as believed, with its 95 % bounds, all in the quantity's unit
    """

    request: RequestId
    quantity: Quantity
    value: float
    low95: float
    high95: float


@dataclass(frozen=True, slots=True)
class Beside:
    """What the probes showed of the water in which a hand test was taken: means of half an hour of settled flow.

    at_s : plant clock [s] at the end of the half hour, which lies within a day of the test
    checked_s : when the electrode had last been calibrated or checked by then; None: not known to have been
    """

    request: RequestId
    at_s: float
    orp_mv: float
    ph: float
    checked_s: float | None = None


@dataclass(frozen=True, slots=True)
class Settled:
    """Means of half an hour of settled flow; at_s : its end [plant clock]."""

    at_s: float
    orp_mv: float
    ph: float
