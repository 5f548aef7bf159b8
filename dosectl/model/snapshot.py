"""Everything that a step may know of the outside: the capture format is the replay's input is the test's fixture."""

from dataclasses import dataclass

from dosectl.model.instant import Instant
from dosectl.model.requests import Request
from dosectl.model.signals import Drop, ForeignCommand, Health, NodeReport, Sample


@dataclass(frozen=True, slots=True)
class Snapshot:
    """All that arrived since the last step, in the order it arrived; never "latest values"."""

    step_no: int
    now: Instant
    samples: tuple[Sample, ...]
    health: Health
    requests: tuple[Request, ...] = ()
    drops: tuple[Drop, ...] = ()
    nodes: tuple[NodeReport, ...] = ()
    foreign: tuple[ForeignCommand, ...] = ()
