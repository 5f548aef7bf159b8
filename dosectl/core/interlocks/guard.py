"""The shape of a guard: one small class, one file, one line in the registry."""

from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache
from typing import Any, Protocol, runtime_checkable

from dosectl.core.evidence import Evidence
from dosectl.core.site import Site
from dosectl.model.feeds import FeederId
from dosectl.model.reasons import Code, Reason, ReasonKind
from dosectl.model.signals import SignalId, SignalKind, Status
from dosectl.model.verdicts import Verdict
from dosectl.model.water_tests import WaterTest

ITSELF = Code("itself")
PERSON = Code("person")
TEST = Code("test")
REFILL = Code("refill")
RECORD = Code("record")


@dataclass(frozen=True, slots=True)
class Memory:
    """What one guard remembers between steps.

    since_s : plant clock at which the state being timed began (working: lost at a restart)
    until_s : plant clock until which a hold lasts (working)
    latched : set while a latched trip stands (durable)
    count, marks : counts and moments or values the guard needs (durable)
    recent : values that change with every sample, such as a running mean (working, so that the record is not rewritten for them)
    """

    since_s: float | None = None
    until_s: float | None = None
    latched: Reason | None = None
    count: int = 0
    marks: tuple[float, ...] = ()
    recent: tuple[float, ...] = ()

    def restarted(self) -> "Memory":
        """As it is after a restart: timers must prove again, latches, counts and marks stay."""
        if self.since_s is None and self.until_s is None and not self.recent:
            return self
        return Memory(latched=self.latched, count=self.count, marks=self.marks)


FRESH = Memory()


@dataclass(frozen=True, slots=True)
class Need:
    """A reading the guard can't judge without: worse than `worst` is a denial before the guard is called."""

    kind: SignalKind
    worst: Status


class Guard(Protocol):
    """Judges raw evidence for the feeders it stands before."""

    @property
    def code(self) -> Code: ...  # stable name, also the key of its memory together with `feeders`

    @property
    def feeders(self) -> tuple[FeederId, ...]: ...  # whom its verdict binds

    @property
    def needs(self) -> tuple[Need, ...]: ...

    def judge(self, evidence: Evidence, memory: Memory) -> tuple[Verdict, Memory]: ...


@runtime_checkable
class Doubting(Protocol):
    """A guard whose latch says of a signal that it does not answer: while it stands nobody goes by that signal."""

    @property
    def mute_signal(self) -> SignalId: ...


@runtime_checkable
class Withholding(Protocol):
    """A guard whose latch a person may clear only once something was shown."""

    def still_to_show(self, memory: Memory, tests: tuple[WaterTest, ...], /) -> Code | None: ...  # None: it may be cleared now


SHOW_NO_FLOW = Code("flow.off")
SHOW_PH_TEST = Code("ph.test")
SHOW_MOVE = Code("orp.move")
"""What must be shown before a person's clear is obeyed."""


@dataclass(frozen=True, slots=True)
class GuardKind:
    """A line of the registry.

    params : frozen dataclass of settings with ranges (model.ranges.setting), or None
    build : makes the guards of this kind that the site needs (one for all, one per feeder, or none)
    reasons : every reason the guard may give, with words
    stops, clears, why : for the published table of interlocks
    lacks : whether it can't judge some part here for want of a signal or a figure that belongs to any such plant
    fits : for a guard that reads what only some plants have, such as a second probe: whether it could be fitted here; it is off
        where it is not, and that is told unless the settings say that the pool does without it
    """

    code: Code
    params: type[Any] | None
    build: Callable[[Site, Any], tuple[Guard, ...]]
    reasons: tuple[ReasonKind, ...]
    stops: str
    clears: str
    why: str
    lacks: Callable[[Site, Any], bool] | None = None
    fits: Callable[[Site], bool] | None = None


def memory_key(guard: Guard) -> str:
    """Key of the guard's memory: its code and whom it binds, whatever their order in the settings."""
    return _key(guard.code, guard.feeders)


@lru_cache(maxsize=4096)
def _key(code: Code, feeders: tuple[FeederId, ...]) -> str:
    return f"{code}:{','.join(sorted(feeders))}"
