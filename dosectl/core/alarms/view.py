"""What alarms may see, and what they remember. They import nothing from the control side: a bug there can't silence them."""

from collections.abc import Mapping
from dataclasses import dataclass
from enum import IntEnum
from typing import Protocol

from dosectl.core.evidence import Evidence
from dosectl.model.feeds import FeederId
from dosectl.model.instant import Instant
from dosectl.model.reasons import Code, Facts, Reason
from dosectl.model.verdicts import Verdict


class Priority(IntEnum):
    """From the consequence and the time to respond. A notice is no alarm: it is only shown."""

    NOTICE = 0
    LOW = 1
    MEDIUM = 2
    HIGH = 3
    CRITICAL = 4


class Water(Protocol):
    """The estimate's published 95 % bounds of free chlorine [mg/L]: one signal among others."""

    @property
    def low95_mg_l(self) -> float: ...
    @property
    def high95_mg_l(self) -> float: ...


class Answered(Protocol):
    """A person's "I know" for one occurrence."""

    @property
    def alarm(self) -> Code: ...
    @property
    def occurrence(self) -> int: ...
    @property
    def by(self) -> str: ...


@dataclass(frozen=True, slots=True)
class AlarmView:
    """The step as alarms see it.

    objections : what guards deny or limit, per feeder
    target_mg_l : free chlorine aimed at; fallback : chlorine runs without a usable reading
    """

    evidence: Evidence
    objections: Mapping[FeederId, tuple[Verdict, ...]]
    water: Water
    target_mg_l: float
    fallback: bool


@dataclass(frozen=True, slots=True)
class Alarm:
    """State of one alarm as independent facts; what people call its state is derived from them.

    occurrence : number of the last occurrence, 0 before the first
    pending_s : since when the other state is pending: on the row's scale while clear, plant clock while present
    since : when this occurrence began; raised_s : plant clock [s]; raised_scale_s : the same on the row's scale
    level : how often the priority has risen; answered_s : plant clock of the answer; cleared_s : of the clearing
    """

    code: Code
    occurrence: int = 0
    present: bool = False
    acked: bool = True
    latched: bool = False
    level: int = 0
    pending_s: float | None = None
    since: Instant | None = None
    raised_s: float = 0.0
    raised_scale_s: float = 0.0
    answered_s: float | None = None
    answered_by: str = ""
    cleared_s: float | None = None
    why: Reason | None = None

    @property
    def normal(self) -> bool:
        """Nothing of it needs to be shown."""
        return self.acked and not self.present and not self.latched


@dataclass(frozen=True, slots=True)
class Hiding:
    """A parent condition that hides others: whether it stands, and the plant clock of its last change [s]."""

    name: Code
    active: bool
    changed_s: float


@dataclass(frozen=True, slots=True)
class AlarmMemory:
    """All that survives a restart. The same object as before where nothing changed.

    flow_marks : (plant clock, flow clock) about each hour of the last day
    """

    alarms: tuple[Alarm, ...] = ()
    hidings: tuple[Hiding, ...] = ()
    flow_marks: tuple[tuple[float, float], ...] = ()


@dataclass(frozen=True, slots=True)
class AlarmChange:
    """One transition of one alarm, for the record and for calls.

    change : `raised`, `risen` (priority), `again` (still present long after the answer), `cleared`, `answered`, `let_go`
    """

    code: Code
    change: str
    occurrence: int
    priority: Priority
    present: bool
    acked: bool
    latched: bool
    at: Instant
    by: str = ""
    why: Reason | None = None

    @property
    def facts(self) -> Facts:
        """Facts of the cause, and who answered."""
        facts: Facts = () if self.why is None else (("why", str(self.why.code)), *self.why.facts)
        return (*facts, ("by", self.by)) if self.by else facts
