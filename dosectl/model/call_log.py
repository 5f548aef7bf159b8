"""What is known of calls once they are put out: which are open, what was tried, what a code answers. Times are aware UTC."""

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

from dosectl.model.reasons import Facts


class Outcome(StrEnum):
    """What became of an attempt. Taken is not heard: only an answer says that somebody knows."""

    UNKNOWN = ""  # begun; the process ended before it was known
    TAKEN = "taken"
    FAILED = "failed"


@dataclass(frozen=True, slots=True)
class OpenCall:
    """One call that is not closed.

    priority : 0 notice to 4 critical; change : raised, risen, again, or the kind of a message that no alarm makes
    folded : codes of alarms that follow from this one; why : code of the cause
    answered, cleared : of the alarm's occurrence, None while it is not
    """

    id: int
    key: str
    at: datetime
    code: str
    occurrence: int
    priority: int
    change: str
    first_out: str
    folded: tuple[str, ...]
    why: str
    facts: Facts
    answered: datetime | None
    answered_by: str
    cleared: datetime | None


@dataclass(frozen=True, slots=True)
class ClosedCall:
    """A call that ended: why and when."""

    key: str
    at: datetime
    code: str
    occurrence: int
    priority: int
    answered: datetime | None
    answered_by: str
    closed: datetime
    why: str


@dataclass(frozen=True, slots=True)
class Attempt:
    """One try to hand one step of a call to one route of one person."""

    call_id: int
    step: int
    person: str
    route: str
    message: str
    begun: datetime
    ended: datetime | None
    outcome: Outcome


@dataclass(frozen=True, slots=True)
class CodeFound:
    """What a code answers.

    used : when it was used up, by whichever answer
    covers : (alarm, occurrence) that a summary of many stands for still, the gravest first
    graver : the same occurrence was called again since, as graver
    """

    call_id: int
    code: str
    occurrence: int
    change: str
    person: str
    used: datetime | None
    covers: tuple[tuple[str, int], ...] = ()
    graver: bool = False


def by_way(person: str, route: str) -> str:
    """A person and the route that reached them, as the answer to a test tells: ids of persons hold no slash."""
    return f"{person}/{route}"
