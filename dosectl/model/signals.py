"""What arrives from the plant and what it is worth."""

from dataclasses import dataclass
from datetime import datetime
from enum import IntEnum, StrEnum
from typing import NewType

from dosectl.model.instant import Instant
from dosectl.model.reasons import Code, Reason

SignalId = NewType("SignalId", str)
NodeId = NewType("NodeId", str)


class SignalKind(StrEnum):
    """Kinds of signals; the unit of a number is the standard one named here, whatever the payload used."""

    ORP = "orp"  # mV against the electrode's own reference
    PH = "ph"  # pH
    WATER_TEMP = "water_temp"  # deg C
    FLOW = "flow"  # switch: bool; meter: L/min
    PUMP = "pump"  # running: bool; power: W
    SAMPLE_FLOW = "sample_flow"  # bool
    FREE_CHLORINE = "free_chlorine"  # mg/L as Cl2, from an amperometric cell
    LEVEL = "level"  # container: not empty: bool; fill: %
    FEEDBACK = "feedback"  # feeder runs: bool; load: W or A
    COVER = "cover"  # closed: bool
    SUNLIGHT = "sunlight"  # % of a clear sky's: measured, or foretold for the day
    SALT = "salt"  # g/L
    CELL_CURRENT = "cell_current"  # A
    CELL_VOLTAGE = "cell_voltage"  # V
    WATER_PATH = "water_path"  # filter position: bool
    STOP_INPUT = "stop_input"  # local stop or service isolator, true = stop: bool
    PRESENCE = "presence"  # a button at the plant, true = pressed: bool


class Status(IntEnum):
    """NAMUR NE 107's categories with good and unknown, from best to worst; the worst wins in every combination."""

    GOOD = 0
    MAINTENANCE = 1  # usable, wearing out
    OUT_OF_SPEC = 2  # outside the sensor's or the method's range
    CHECK = 3  # under test, calibration, service or simulated input
    FAILURE = 4  # unbelievable, or no sensor
    UNKNOWN = 5  # no message, start-up, clock doubt: not zero, not the last value


@dataclass(frozen=True, slots=True)
class Sample:
    """One decoded message of one signal, in the signal's standard unit, not yet judged.

    raw : number in the standard unit, or a switch state
    source_utc, source_seq : time and sequence the source put in the payload, where it did
    retained : the broker's retain flag
    """

    signal: SignalId
    raw: float | bool
    arrived_at: Instant
    source_utc: datetime | None = None
    source_seq: int | None = None
    retained: bool = False


@dataclass(frozen=True, slots=True)
class Drop:
    """A message that did not become a sample or a reading, and why: counted, and evidence of doubt."""

    signal: SignalId
    why: Code  # payload.not_a_number, payload.too_long, payload.text, payload.binary, message.retained, .repeated, ...
    at: Instant
    shown: str = ""  # at most 60 characters of what was found


@dataclass(frozen=True, slots=True)
class Reading:
    """The present state of a signal: calibrated, unfiltered, with its status.

    value : None where the status is CHECK or worse
    raw : the last sample's value, kept for limits and for the record even where `value` is None
    sigma : standard uncertainty in the unit of the value, None for switches
    at_s : plant clock [s] at which the sample arrived, None before the first
    why : the reason of a status worse than GOOD
    """

    signal: SignalId
    status: Status
    value: float | bool | None
    raw: float | bool | None
    sigma: float | None
    at_s: float | None
    why: Reason | None = None

    def number(self, worst: Status = Status.OUT_OF_SPEC) -> float | None:
        """The value as a number where the status is no worse than `worst`; else None."""
        if self.status > worst or self.value is None or isinstance(self.value, bool):
            return None
        return self.value

    def switch(self, worst: Status = Status.MAINTENANCE) -> bool | None:
        """The value as a switch state where the status is no worse than `worst`; else None."""
        if self.status > worst or not isinstance(self.value, bool):
            return None
        return self.value


@dataclass(frozen=True, slots=True)
class NodeReport:
    """What a feeder's node says of itself, each 5 s and at once on a change.

    boot : the node's boot identity; ms : its millisecond counter since that boot
    owner : the controller it last obeyed, "" if none
    numbers : (feeder, number of the last command of that owner) of each of its feeders
    simulated : the node is part of a simulated pool
    """

    node: NodeId
    boot: str
    ms: int
    owner: str
    simulated: bool
    arrived_at: Instant
    numbers: tuple[tuple[str, int], ...] = ()


@dataclass(frozen=True, slots=True)
class ForeignCommand:
    """A command on one of our topics that this installation did not send."""

    topic: str
    owner: str
    at: Instant


STOPPING = Code("daemon.stopping")
"""Among `Health.faults`: the process was told to end."""


@dataclass(frozen=True, slots=True)
class Health:
    """What the adapters know of themselves at this step.

    journal_ok : the last commit held and the ledger could be read at start
    free_bytes : room where the journal lies, None if unknown
    bus_alive : our own echo came back within its limit (never the client's flag)
    echo_age_s : age of the last echo [s], None before the first
    clock_trusted : the wall clock is synchronised, as the system says
    dropped_samples : samples lost to the queue's bound since the last step
    queue_age_s : age of the oldest item when the step began [s]
    forward_backlog_s : age of the oldest record the time-series server has not got [s], None if no server is set
    faults : codes of adapter faults that stand now (`calendar.missed`, `bus.takeover`, ...)
    persons : how many people are named to be called, None where nobody says
    """

    journal_ok: bool
    free_bytes: int | None
    bus_alive: bool
    echo_age_s: float | None
    clock_trusted: bool
    dropped_samples: int = 0
    queue_age_s: float = 0.0
    forward_backlog_s: float | None = None
    faults: tuple[Code, ...] = ()
    persons: int | None = None
