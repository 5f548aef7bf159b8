"""The shape of a row of the alarm catalogue. No blank fields: a test reads the table."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from enum import StrEnum

from dosectl.core.alarms.params import AlarmParams
from dosectl.core.alarms.view import AlarmMemory, AlarmView, Priority
from dosectl.model.reasons import Code, Reason
from dosectl.model.signals import Reading, SignalKind


@dataclass(frozen=True, slots=True)
class Looking:
    """One look at a step: the view, and its objections by guard and by reason.

    first : the reading of the first signal of each kind; bad : readings of a status worse than good. Both made once a step
    denials, limits : reason by the guard's code, by each of its dotted prefixes, and by the reason's own code
    """

    view: AlarmView
    params: AlarmParams
    memory: AlarmMemory
    denials: Mapping[str, Reason]
    limits: Mapping[str, Reason]
    first: Mapping[SignalKind, Reading]
    bad: tuple[tuple[SignalKind, Reading], ...]

    def number(self, kind: SignalKind) -> float | None:
        """Value of the first signal of a kind, where its status allows."""
        reading = self.first.get(kind)
        return None if reading is None else reading.number()


Finding = Reason | bool | None
"""Present (a reason or True), clear (False), or unknown: then the alarm keeps its state."""

Condition = Callable[[Looking, bool], Finding]
"""Whether the condition stands; the flag says that it stood before, for the deadband."""


class Scale(StrEnum):
    """What the on-delay and the rises are counted in."""

    PLANT = "time"
    FLOW = "time of proven flow"


@dataclass(frozen=True, slots=True)
class Row:
    """One alarm.

    title : what is wrong, in a few words
    consequence : what happens if nobody acts; respond_within : how long that takes
    does : what the controller has done by itself; response : what a person does, the first step doable from afar
    on_delay_s, off_delay_s : how long the condition must stand or be gone [s, on-delay on `scale`]
    rises : (age on `scale` [s], priority) in ascending order; the level never falls without clearing
    latch : stays on the list until answered, even when its cause is gone
    hidden_by : parent conditions under which it neither fires nor clears
    """

    code: Code
    priority: Priority
    title: str
    consequence: str
    respond_within: str
    does: str
    response: str
    condition: Condition
    on_delay_s: float
    off_delay_s: float
    scale: Scale = Scale.PLANT
    rises: tuple[tuple[float, Priority], ...] = field(default=())
    latch: bool = False
    hidden_by: tuple[Code, ...] = field(default=())

    def priority_at(self, level: int) -> Priority:
        """The priority after so many rises."""
        return self.priority if level == 0 else self.rises[level - 1][1]
