"""The shape of a request kind: its arguments, who may ask it from where, and how it is judged."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from enum import StrEnum

from dosectl.core.evidence import Standing
from dosectl.core.requests.changes import Change
from dosectl.core.requests.listed import ListedAlarm
from dosectl.core.site import Site
from dosectl.model.absences import Absence
from dosectl.model.feeds import FeederId
from dosectl.model.instant import Instant
from dosectl.model.reasons import Code, Fact, Reason, ReasonKind
from dosectl.model.requests import Reply, Request, RequestId
from dosectl.model.water_tests import WaterTest


class ArgumentType(StrEnum):
    NUMBER = "number"
    WHOLE = "whole number"
    TEXT = "text"
    YES_NO = "yes or no"
    TIME = "time"  # ISO 8601 with its zone


class Rights(StrEnum):
    """What stops needs nothing; what starts or unlocks needs somebody at the plant."""

    ANYWHERE = "anywhere"
    AT_THE_PLANT = "at the plant"


@dataclass(frozen=True, slots=True)
class Argument:
    """One argument of a request; forms and command-line options are made from it.

    ge, le : bounds of a number [unit], both inclusive
    choices : the accepted texts, empty for any
    """

    name: str
    type: ArgumentType
    help: str
    unit: str = ""
    ge: float | None = None
    le: float | None = None
    choices: tuple[str, ...] = ()
    required: bool = True


@dataclass(frozen=True, slots=True)
class StandingAlarm:
    """An alarm that a person may answer."""

    code: Code
    occurrence: int
    acked: bool


@dataclass(frozen=True, slots=True)
class RequestView:
    """What judging may see.

    clock_s : plant clock now [s]
    latches : (memory key, guard code, reason) of each latched trip
    seen : replies given before, by request id
    listed : every alarm of the list; absences : the last ones, the newest last
    fed_g : (feeder, all that it ever fed by the ledger [g])
    withheld : memory keys of latches that may not be cleared yet, and what must be shown first
    """

    clock_s: float
    now: Instant
    standing: Standing
    tests: tuple[WaterTest, ...]
    latches: tuple[tuple[str, Code, Reason], ...]
    alarms: tuple[StandingAlarm, ...]
    seen: Mapping[RequestId, Reply]
    listed: tuple[ListedAlarm, ...] = ()
    absences: tuple[Absence, ...] = ()
    fed_g: tuple[tuple[FeederId, float], ...] = ()
    withheld: Mapping[str, Code] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Asked:
    """A request whose arguments have the right names, types and ranges, from somebody who may ask it."""

    request: Request
    arguments: Mapping[str, Fact]
    presence_proven: bool

    def text(self, name: str) -> str:
        """A text argument, "" where it was left out."""
        return str(self.arguments.get(name, ""))

    def number(self, name: str) -> float:
        """A required number. Raises KeyError where it was left out."""
        return float(self.arguments[name])

    def yes(self, name: str) -> bool:
        """A yes-or-no argument, False where it was left out."""
        return self.arguments.get(name) is True


@dataclass(frozen=True, slots=True)
class Judgement:
    """The reply, and what changes if it was granted."""

    reply: Reply
    change: Change | None


@dataclass(frozen=True, slots=True)
class RequestKind:
    """A line of the registry.

    late : granted even after its expiry: a stop is never too late
    help : what it does, for the person who asks
    answers : every answer `judge` may give, with words
    """

    code: Code
    arguments: tuple[Argument, ...]
    rights: Rights
    help: str
    answers: tuple[ReasonKind, ...]
    judge: Callable[[Site, Asked, RequestView], Judgement]
    late: bool = False


PRESENCE = {True: "presence proven", False: "presence not proven"}


def granted(asked: Asked, answer: ReasonKind, change: Change | None, **facts: Fact) -> Judgement:
    """Done."""
    return Judgement(Reply(asked.request.id, True, answer.code, tuple(facts.items()), answer.words), change)


def refused(request: Request, answer: ReasonKind, **facts: Fact) -> Judgement:
    """Not done, and why."""
    return Judgement(Reply(request.id, False, answer.code, tuple(facts.items()), answer.words), None)
