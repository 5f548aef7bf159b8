"""What one step hands to the journal."""

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

from dosectl.core.alarms.view import AlarmChange
from dosectl.model.calls import Call
from dosectl.model.feeds import FeedCommand, FeederId
from dosectl.model.ledger import Ledger
from dosectl.model.reasons import Code, Event, Facts, Reason
from dosectl.model.requests import Reply
from dosectl.model.signals import Reading
from dosectl.model.snapshot import Snapshot
from dosectl.model.telemetry import TelemetryPoint
from dosectl.model.water_tests import WaterTest


class Outcome(StrEnum):
    """What became of a feeder's wish in a step."""

    FEEDING = "feeding"  # a pulse is granted
    LIMITED = "limited"  # granted, but less than was wished
    WITHHELD = "withheld"  # wished, not granted
    RESTING = "resting"  # nothing was wished


@dataclass(frozen=True, slots=True)
class FeederDecision:
    """What was decided for one feeder, with all reasons, the deciding one first."""

    feeder: FeederId
    outcome: Outcome
    reasons: tuple[Reason, ...]


@dataclass(frozen=True, slots=True)
class AlarmRow:
    """One change of one alarm, where it is not told as the core's AlarmChange.

    change : names it (raised, cleared, answered, ...); the rest is the state after it.
    """

    code: Code
    occurrence: int
    change: str
    priority: str
    present: bool
    acked: bool
    latched: bool
    facts: Facts = ()


@dataclass(frozen=True, slots=True)
class JournalEntry:
    """Everything of one step that belongs in the record; written in one transaction.

    step_no, at_utc, clock_s : the step; clock_s is the plant clock [s]
    parts : durable state, (name, JSON bytes), only the parts that changed
    ledger : the ledger after the step, None where it did not change; the journal writes only what is new against the disk
    readings : readings that changed; figures : (name, value) of the estimate, kept like readings
    decisions, commands : one per feeder; only changes become rows
    checkpoint : the whole state for replay, about once an hour
    keep : why the full inputs an hour round this step must stay (a trip, a latch, a stop, a test), "" for an ordinary step
    calls : what somebody must be told of, put out in the same transaction as the alarm changes
    plan_digest : digest of the plan the step ran with; plan : its text without secrets, when it is new
    """

    step_no: int
    at_utc: datetime
    clock_s: float
    snapshot: Snapshot | None = None
    parts: tuple[tuple[str, bytes], ...] = ()
    ledger: Ledger | None = None
    events: tuple[Event, ...] = ()
    commands: tuple[FeedCommand, ...] = ()
    decisions: tuple[FeederDecision, ...] = ()
    alarms: tuple[AlarmRow | AlarmChange, ...] = ()
    replies: tuple[Reply, ...] = ()
    tests: tuple[WaterTest, ...] = ()
    telemetry: tuple[TelemetryPoint, ...] = ()
    readings: tuple[Reading, ...] = ()
    figures: tuple[tuple[str, float], ...] = ()
    checkpoint: bytes | None = None
    keep: str = ""
    plan_digest: str = ""
    plan: bytes | None = None
    calls: tuple[Call, ...] = ()
