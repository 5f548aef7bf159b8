"""What a person asks of the core and what it answers."""

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from typing import NewType

from dosectl.model.reasons import Code, Facts

RequestId = NewType("RequestId", str)


class Place(StrEnum):
    """From where a request came; decided by the topic that the broker's access list reserves for the account."""

    REMOTE = "remote"
    CONSOLE = "console"  # the daemon's own machine; presence not proven
    PLANT = "plant"  # presence proven by a local input or code


@dataclass(frozen=True, slots=True)
class Request:
    """One wish of a person. An id seen before gets the same reply again."""

    id: RequestId
    kind: Code
    arguments: Facts
    by: str
    place: Place
    expires_utc: datetime


@dataclass(frozen=True, slots=True)
class Reply:
    """Exactly one per request, journalled.

    words : a sentence with `{fact}` places, as in ReasonKind
    """

    request: RequestId
    done: bool
    code: Code
    facts: Facts
    words: str
