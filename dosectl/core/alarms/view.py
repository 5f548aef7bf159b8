"""What alarms may see, and what they remember. They import nothing from the control side: a bug there can't silence them."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Protocol

from dosectl.core.alarms.priority import Priority as Priority
from dosectl.core.evidence import Evidence
from dosectl.model.feeds import FeederId
from dosectl.model.instant import Instant
from dosectl.model.reasons import Code, Facts, Reason
from dosectl.model.verdicts import Verdict
from dosectl.model.water_tests import Foretold


class Water(Protocol):
    """What the estimate publishes, one signal among others: 95 % bounds of free chlorine [mg/L], and the share that arrives of
    what the chlorine feeders are booked for, with the standard deviation of its natural logarithm; the temperature [deg C]; the
    standard deviation of pH; for how long by daylight a sunlight signal has said next to nothing."""

    @property
    def low95_mg_l(self) -> float: ...
    @property
    def high95_mg_l(self) -> float: ...
    @property
    def arrives(self) -> float: ...
    @property
    def arrives_log_sigma(self) -> float: ...
    @property
    def temp_c(self) -> float: ...
    @property
    def ph_sigma(self) -> float: ...
    @property
    def dark_h(self) -> float: ...


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
    unsure : there is a reading, but the chlorine is hardly known by it: weak, yet not blind
    foretold : what was believed before the newest test of each quantity; away : the owner has said that nobody is there
    unable : codes of guards that can't judge some part of this plant, for want of a signal or a figure
    """

    evidence: Evidence
    objections: Mapping[FeederId, tuple[Verdict, ...]]
    water: Water
    target_mg_l: float
    fallback: bool
    unsure: bool = False
    foretold: tuple[Foretold, ...] = ()
    away: bool = False
    unable: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Aside:
    """Put on a shelf or out of service by a person: until when on the plant clock [s], since when, by whom, why."""

    until_s: float
    since: Instant
    by: str
    reason: str


@dataclass(frozen=True, slots=True)
class Named:
    """A feeder or probe that an alarm stands for.

    since_s, seen_s : plant clock of its begin, and of about an hour ago at most while it lasts; told : somebody was called for it
    """

    name: str
    since_s: float
    seen_s: float
    told: bool


@dataclass(frozen=True, slots=True)
class Alarm:
    """State of one alarm as independent facts; what people call its state is derived from them.

    occurrence : number of the last occurrence, 0 before the first
    pending_s : since when the other state is pending: on the row's scale while clear, plant clock while present
    since : when this occurrence began; raised_s : plant clock [s]; raised_scale_s : the same on the row's scale
    level : how often the priority has risen; answered_s : plant clock of the answer; cleared_s : of the clearing
    shelf, out : shelved, out of service; shelvings : how often it was shelved since it was last normal
    hidden : the parent that hides it now; edges_s : plant clock of its last changes within a day
    restless : how often its off-delay has grown because it comes and goes; came : how often it came while it did
    worst : the value at its begin, where a further change is a new occurrence
    named : what it stands for, where a row may stand for several feeders or probes; about : that of them which `why` tells of
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
    shelf: Aside | None = None
    out: Aside | None = None
    shelvings: int = 0
    hidden: Code | None = None
    edges_s: tuple[float, ...] = ()
    restless: int = 0
    came: int = 0
    worst: float | None = None
    named: tuple[Named, ...] = ()
    about: str = ""

    @property
    def normal(self) -> bool:
        """Nothing of it needs to be shown."""
        return self.acked and not self.present and not self.latched

    @property
    def aside(self) -> bool:
        """A person has put it aside for a while: it calls nobody."""
        return self.shelf is not None or self.out is not None


@dataclass(frozen=True, slots=True)
class Hiding:
    """A parent condition that hides others: whether it stands, and the plant clock of its last change [s]."""

    name: Code
    active: bool
    changed_s: float


@dataclass(frozen=True, slots=True)
class Waiting:
    """A call not made yet: the change it tells of; at_s : the plant clock from which on it waits to be gathered [s]."""

    code: Code
    occurrence: int
    change: str
    at: Instant
    at_s: float


@dataclass(frozen=True, slots=True)
class Folded:
    """An occurrence that was not called because it follows from another one, which was."""

    code: Code
    occurrence: int
    into: Code
    into_occurrence: int


@dataclass(frozen=True, slots=True)
class CallMemory:
    """Who was called of what, for first-outs and floods.

    waiting : calls gathered for the first-out's window; folded : silent consequences
    summed : left for the next summary of a flood; summary_s : plant clock of the last one; summaries : how many ever
    called : code, plant clock [s] and priority of the calls of the last day, those in summaries too
    """

    waiting: tuple[Waiting, ...] = ()
    folded: tuple[Folded, ...] = ()
    summed: tuple[Waiting, ...] = ()
    called: tuple[tuple[Code, float, int], ...] = ()
    summary_s: float | None = None
    summaries: int = 0


@dataclass(frozen=True, slots=True)
class AlarmMemory:
    """All that survives a restart. The same object as before where nothing changed.

    flow_marks : (plant clock, flow clock) about each hour of the last day
    """

    alarms: tuple[Alarm, ...] = ()
    hidings: tuple[Hiding, ...] = ()
    flow_marks: tuple[tuple[float, float], ...] = ()
    calls: CallMemory = CallMemory()


@dataclass(frozen=True, slots=True)
class AlarmChange:
    """One transition of one alarm, for the record and for calls.

    change : `raised`, `worse` (raised as a new occurrence while it stood), `risen` (priority), `again` (still present long after
        the answer), `cleared`, `answered`, `let_go`, `restless` (comes and goes), `shelved`, `unshelved`, `taken_out`, `back_in`,
        `hidden`, `shown`, `useless` (a person says that it asked for nothing)
    note : a person's reason, or the parent that hides it
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
    note: str = ""

    @property
    def facts(self) -> Facts:
        """Facts of the cause, who acted, and why they did."""
        facts: Facts = () if self.why is None else (("why", str(self.why.code)), *self.why.facts)
        facts = (*facts, ("by", self.by)) if self.by else facts
        return (*facts, ("note", self.note)) if self.note else facts
