"""What queries over the record answer. Times are aware UTC; masses in grams as in the ledger."""

from dataclasses import dataclass
from datetime import datetime

from dosectl.model.feeds import FeederId, Substance
from dosectl.model.reasons import Code, Facts, Reason
from dosectl.store.entry import Outcome


@dataclass(frozen=True, slots=True)
class Decided:
    """What held for a feeder at a moment. since : when this outcome with these codes began; as_of : age of the facts."""

    feeder: FeederId
    outcome: Outcome
    reasons: tuple[Reason, ...]
    since: datetime
    as_of: datetime


@dataclass(frozen=True, slots=True)
class Trips:
    """When a guard began to deny. last, cleared : of all the record; why : the last reason; count : since the moment asked."""

    guard: Code
    last: datetime
    why: Code
    count: int
    cleared: datetime | None


@dataclass(frozen=True, slots=True)
class EventLine:
    """One event."""

    at: datetime
    code: Code
    facts: Facts


@dataclass(frozen=True, slots=True)
class AlarmLine:
    """One change of one alarm."""

    at: datetime
    code: Code
    occurrence: int
    change: str
    priority: str
    present: bool
    acked: bool
    latched: bool
    facts: Facts


@dataclass(frozen=True, slots=True)
class CommandLine:
    """A start (level above 0) or a stop of a feeder. renewed : renewals of the run that a stop ended."""

    at: datetime
    feeder: FeederId
    level: float
    debit_no: int | None
    renewed: int
    code: Code
    facts: Facts


@dataclass(frozen=True, slots=True)
class FeedLine:
    """One reservation. lasted_s : from its opening to its closing; mass_g : booked, all of it where nothing was booked back.

    substance : None in an older record
    """

    at: datetime
    feeder: FeederId
    substance: Substance | None
    lasted_s: float
    mass_g: float


@dataclass(frozen=True, slots=True)
class RequestLine:
    """One request of a person. answered : the facts of its answer"""

    at: datetime
    request: str
    kind: Code
    arguments: Facts
    place: str
    answered: Facts


@dataclass(frozen=True, slots=True)
class ReplyLine:
    """One reply to one request."""

    at: datetime
    request: str
    done: bool
    code: Code
    facts: Facts
    words: str


@dataclass(frozen=True, slots=True)
class Fed:
    """Ledger of one feeder over a time: closed mass [g], mass still reserved [g], number of reservations."""

    feeder: FeederId
    fed_g: float
    reserved_g: float
    entries: int


@dataclass(frozen=True, slots=True)
class Extremes:
    """One signal over a time, in its standard unit; n counts its good values."""

    signal: str
    mean: float
    low: float
    high: float
    n: int


@dataclass(frozen=True, slots=True)
class Point:
    """One step of a series: mean, lowest and highest of what came within it."""

    at: datetime
    mean: float
    low: float
    high: float
    n: int


@dataclass(frozen=True, slots=True)
class DaySummary:
    """A day (or any time) at a glance. withheld : (feeder, first reason, times) of doses that were wished and not given."""

    start: datetime
    end: datetime
    fed: tuple[Fed, ...]
    raised: tuple[AlarmLine, ...]
    extremes: tuple[Extremes, ...]
    withheld: tuple[tuple[FeederId, Code, int], ...]
