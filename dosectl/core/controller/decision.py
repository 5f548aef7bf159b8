"""What a step decided: commands for all feeders, and everything that somebody must be told or that must be kept."""

from dataclasses import dataclass

from dosectl.core.alarms.states import AlarmChange
from dosectl.core.control.reasons import of_feeder
from dosectl.core.control.state import ControlView
from dosectl.core.controller.state import State
from dosectl.core.estimate.state import WaterView
from dosectl.core.evidence import Evidence
from dosectl.core.interlocks.arbiter import UNWANTED, Objections
from dosectl.model.calls import Call
from dosectl.model.feeds import FeedCommand, FeederId
from dosectl.model.ledger import Debit
from dosectl.model.reasons import Event, Reason
from dosectl.model.requests import Reply


@dataclass(frozen=True, slots=True)
class Decision:
    """The outcome of one step.

    commands : exactly one per feeder; ONs may leave only after `opened` debits are on the disk
    at_once : this step must be committed before anything else goes on (a debit, latch, request, trip or alarm change)
    wake_in_s : the step wants to run again after at most this long [s]
    calls : what somebody must be told of now; put out with the same record
    """

    commands: tuple[FeedCommand, ...]
    objections: Objections
    opened: tuple[Debit, ...]
    replies: tuple[Reply, ...]
    alarms: tuple[AlarmChange, ...]
    events: tuple[Event, ...]
    evidence: Evidence
    water: WaterView
    control: ControlView
    at_once: bool
    wake_in_s: float
    calls: tuple[Call, ...] = ()


def feeder_why(decision: Decision, feeder: FeederId) -> Reason:
    """Why control wants, or does not want, this feeder."""
    return of_feeder(decision.control.feeders, feeder) or UNWANTED.because(decision.evidence.now)


StepResult = tuple[State, Decision]
