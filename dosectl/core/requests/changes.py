"""What a granted request changes, as typed facts. Only the controller applies them, before the guards run."""

from dataclasses import dataclass
from datetime import datetime

from dosectl.core.evidence import Proof
from dosectl.model.absences import Absence
from dosectl.model.alarm_acts import AlarmAct
from dosectl.model.feeds import FeederId
from dosectl.model.reasons import Code, Reason
from dosectl.model.requests import RequestId
from dosectl.model.signals import SignalId
from dosectl.model.water_tests import WaterTest


@dataclass(frozen=True, slots=True)
class AddTest:
    """A water test becomes evidence."""

    test: WaterTest


@dataclass(frozen=True, slots=True)
class WithdrawTest:
    """The tests entered by this request no longer count; they stay in the record."""

    request: RequestId


@dataclass(frozen=True, slots=True)
class Refill:
    """The feeder's container holds this much from now on [mL]."""

    feeder: FeederId
    at_s: float
    volume_ml: float


@dataclass(frozen=True, slots=True)
class Stop:
    """All feeding stops until released."""

    why: Reason


@dataclass(frozen=True, slots=True)
class Release:
    """The manual stop ends."""

    by: str
    presence_proven: bool


@dataclass(frozen=True, slots=True)
class ServiceOn:
    """Somebody works at the plant: nothing is fed until they say that they are done."""

    why: Reason


@dataclass(frozen=True, slots=True)
class ServiceOff:
    """The service lockout ends."""

    by: str
    presence_proven: bool


@dataclass(frozen=True, slots=True)
class Answer:
    """A person knows of this occurrence of an alarm; neither fixed nor reset."""

    alarm: Code
    occurrence: int
    by: str


@dataclass(frozen=True, slots=True)
class ClearLatch:
    """A latched trip is cleared; it latches again in the same step where its cause still stands."""

    memory_key: str
    by: str
    presence_proven: bool


@dataclass(frozen=True, slots=True)
class ConfirmConfig:
    """The feeder may run under the settings with this digest."""

    feeder: FeederId
    digest: str
    by: str
    presence_proven: bool


@dataclass(frozen=True, slots=True)
class AttestProof:
    """A proof record from typed answers."""

    proof: Proof
    presence_proven: bool


@dataclass(frozen=True, slots=True)
class Dispense:
    """A person at the plant wants this feeder to run for so long; every guard still judges it."""

    feeder: FeederId
    seconds: float
    by: str
    presence_proven: bool


@dataclass(frozen=True, slots=True)
class HandAddition:
    """What somebody put into the pool by hand, as changes of the mixed water [mg/L; inorganic carbon mmol/L].

    alkalinity_mg_l : net, once added chlorine has been used
    amount, unit : of the product; entered_s : when it was entered, None: at once
    """

    request: RequestId
    at_s: float
    by: str
    product: str
    free_chlorine_mg_l: float
    alkalinity_mg_l: float
    stabiliser_mg_l: float
    hardness_mg_l: float = 0.0
    salt_mg_l: float = 0.0
    borate_b_mg_l: float = 0.0
    carbon_mmol_l: float = 0.0
    amount: float = 0.0
    unit: str = ""
    entered_s: float | None = None


@dataclass(frozen=True, slots=True)
class BeAway:
    """The owner is away from now on, or for longer or shorter than was said."""

    absence: Absence


@dataclass(frozen=True, slots=True)
class BeBack:
    """The absence ends."""

    at: datetime
    at_s: float


@dataclass(frozen=True, slots=True)
class Calibrated:
    """A probe was calibrated, or checked in its standard, at this moment of the plant clock [s]."""

    probe: SignalId
    at_s: float


@dataclass(frozen=True, slots=True)
class Replaced:
    """A feeder's wearing part, or a probe, is new since this moment of the plant clock [s]; fed_g : all fed by then [g]."""

    part: str
    at_s: float
    fed_g: float


Change = (
    AddTest
    | WithdrawTest
    | Refill
    | Stop
    | Release
    | ServiceOn
    | ServiceOff
    | Answer
    | AlarmAct
    | ClearLatch
    | ConfirmConfig
    | AttestProof
    | Dispense
    | HandAddition
    | BeAway
    | BeBack
    | Calibrated
    | Replaced
)
