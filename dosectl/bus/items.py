"""What the bus puts on the daemon's queue."""

from dataclasses import dataclass
from datetime import datetime

from dosectl.model.feeds import FeederId
from dosectl.model.instant import Instant
from dosectl.model.requests import Place, Reply, Request
from dosectl.model.signals import Drop, ForeignCommand, NodeReport, Sample


@dataclass(frozen=True, slots=True)
class SampleItem:
    """A decoded message of a signal."""

    sample: Sample


@dataclass(frozen=True, slots=True)
class DropItem:
    """A message that became nothing. `signal` of the drop is `node:<id>`, `ask:<account>` or `sim` where it is no signal's."""

    drop: Drop
    topic: str


@dataclass(frozen=True, slots=True)
class NodeOutput:
    """One feeder as its node shows it: what its output is, and the number of the last command it obeyed."""

    feeder: FeederId
    on: bool
    command_no: int


@dataclass(frozen=True, slots=True)
class NodeItem:
    """A node's status."""

    report: NodeReport
    outputs: tuple[NodeOutput, ...]


@dataclass(frozen=True, slots=True)
class ForeignItem:
    """A command on one of our command topics that we did not send. `retained`: it lies in the broker; clear the topic."""

    command: ForeignCommand
    retained: bool


@dataclass(frozen=True, slots=True)
class RequestItem:
    """A well-formed request; account and place come from the topic."""

    request: Request
    account: str
    place: Place
    at: Instant


@dataclass(frozen=True, slots=True)
class RefusedItem:
    """A request whose form is wrong, with the reply to give. It was never judged."""

    reply: Reply
    account: str
    text: str
    at: Instant


@dataclass(frozen=True, slots=True)
class EchoItem:
    """Our own heartbeat began to come back, or has stayed away for longer than its limit. Put on the change only.

    age_s : age of the newest echo [s], None before the first
    """

    alive: bool
    age_s: float | None
    at: Instant


@dataclass(frozen=True, slots=True)
class LinkItem:
    """The connection came up or went down, and what the broker or the system said of it."""

    up: bool
    text: str
    at: Instant


@dataclass(frozen=True, slots=True)
class TickItem:
    """Simulated pool only: everything of this instant has been sent; `mono_s` and `utc` are the plant's."""

    no: int
    mono_s: float
    utc: datetime


Item = SampleItem | DropItem | NodeItem | ForeignItem | RequestItem | RefusedItem | EchoItem | LinkItem | TickItem
