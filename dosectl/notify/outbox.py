"""What calling people needs of the journal's outbox."""

from collections.abc import Callable, Iterable
from datetime import datetime
from typing import Protocol

from dosectl.model.call_log import Attempt, CodeFound, OpenCall, Outcome


class Outbox(Protocol):
    """Belongs to one thread at a time; what it raises is given to the caller as `errors`."""

    def open_calls(self) -> tuple[OpenCall, ...]:
        """Calls under way, the gravest first, of the same priority the newest first."""
        ...

    def attempts(self, since: datetime) -> tuple[Attempt, ...]:
        """Attempts of open calls, and all that began since a moment, in order."""
        ...

    def begin(self, steps: Iterable[tuple[int, int]], person: str, route: str, message: str, at: datetime) -> None:
        """Attempts at (call, step) in one message, about to be made."""
        ...

    def end(self, message: str, outcome: Outcome, at: datetime) -> None:
        """What became of a message."""
        ...

    def close_call(self, call_id: int, why: str, at: datetime) -> None:
        """Nothing more is sent of it."""
        ...

    def word_for(self, call_id: int, person: str, fresh: str, at: datetime) -> str:
        """The code with which this person answers this call."""
        ...

    def find_word(self, word: str) -> CodeFound | None:
        """What a code answers."""
        ...

    def note_answer(self, at: datetime, request: str, by: str, code: str, occurrence: int, outcome: str) -> None:
        """Keeps what came as an answer."""
        ...

    def answers(self, since: datetime) -> tuple[tuple[datetime, str, str, int, str], ...]:
        """(when, by whom, alarm, occurrence, outcome) since a moment."""
        ...

    def answer_own(self, call_id: int, by: str, at: datetime) -> None:
        """An answer to a message that no alarm made."""
        ...

    def newest(self, change: str) -> tuple[datetime, datetime | None] | None:
        """When the newest call of a kind was made and answered."""
        ...

    def close(self) -> None:
        """Lets the journal go."""
        ...


OpenOutbox = Callable[[], Outbox]
