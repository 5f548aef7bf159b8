"""The shape of a row of the alarm catalogue. No blank fields: a test reads the table."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from enum import IntEnum, StrEnum

from dosectl.core.alarms.params import AlarmParams
from dosectl.core.alarms.priority import Harm, Priority, Within, priority_of
from dosectl.core.alarms.view import AlarmMemory, AlarmView
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


Cause = Reason | bool | None
"""Present (a reason or True), clear (False), or unknown: then the alarm keeps its state."""


@dataclass(frozen=True, slots=True)
class Several:
    """Present for each of these feeders or probes, each with its own cause; see `several`.

    of : at least one, by name; together_s : what joins within so long of the begin has one cause with it [s]
    """

    of: tuple[tuple[str, Reason | bool], ...]
    together_s: float = 0.0


Finding = Cause | Several

Condition = Callable[[Looking, bool], Finding]
"""Whether the condition stands; the flag says that it stood before, for the deadband."""


class Scale(StrEnum):
    """What the on-delay and the rises are counted in."""

    PLANT = "time"
    FLOW = "time of proven flow"


class Stage(IntEnum):
    """Where a trouble begins: of a burst, the earliest stage is the first-out."""

    POWER = 0
    NODE = 1
    FLOW = 2
    SAMPLE = 3
    SIGNAL = 4
    LIMIT = 5


EVERYTHING: tuple[Code, ...] = (Code("*"),)
"""Follows from any alarm of an earlier stage: some guard holds the feeder, and that guard's own alarm says why."""


@dataclass(frozen=True, slots=True)
class Row:
    """One alarm.

    title : what is wrong, in a few words
    harm, within : class of the consequence and of the time to respond; the priority follows from them by the matrix
    consequence : what happens if nobody acts
    does : what the controller has done by itself; response : what a person does, the first step doable from afar
    on_delay_s, off_delay_s : how long the condition must stand or be gone [s, on-delay on `scale`]
    rises : (age on `scale` [s], priority) in ascending order; the level never falls without clearing
    away : the priority while the owner is away, where that is higher; None: the same as at home
    latch : stays on the list until answered, even when its cause is gone
    hidden_by : parent conditions under which it neither fires nor clears
    fault : what a test does to reach it
    stage : where it stands in the causal order; follows : alarms that it is a consequence of, and is folded into
    worse_by : a further change of the cause's value by so much, with its sign, is a new occurrence; 0 for none
    """

    code: Code
    harm: Harm
    within: Within
    title: str
    consequence: str
    does: str
    response: str
    fault: str
    stage: Stage
    condition: Condition
    on_delay_s: float
    off_delay_s: float
    scale: Scale = Scale.PLANT
    rises: tuple[tuple[float, Priority], ...] = field(default=())
    latch: bool = False
    hidden_by: tuple[Code, ...] = field(default=())
    follows: tuple[Code, ...] = field(default=())
    worse_by: float = 0.0
    away: Priority | None = None

    @property
    def priority(self) -> Priority:
        """The priority of its first level."""
        return priority_of(self.harm, self.within)

    @property
    def respond_within(self) -> str:
        """The time to respond in words."""
        return f"{self.within.value}, falling with age" if self.rises else self.within.value

    def priority_at(self, level: int) -> Priority:
        """The priority after so many rises; one level beyond them is that of an absence."""
        if level > len(self.rises):
            return self.priority if self.away is None else self.away
        return self.priority if level == 0 else self.rises[level - 1][1]
