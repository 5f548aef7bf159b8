"""Durable state to bytes and back, strictly: what comes back equals what went in, or an error says where it does not."""

import re
from dataclasses import dataclass
from datetime import datetime
from types import GenericAlias
from typing import Any, Generic, TypeVar

from pydantic import ConfigDict, TypeAdapter, ValidationError

from dosectl.model.ledger import Ledger
from dosectl.store.faults import JournalDamaged

T = TypeVar("T")

_STRICT = ConfigDict(strict=True, extra="forbid", allow_inf_nan=False, ser_json_inf_nan="constants")
_NOT_FINITE = re.compile(rb"[\[:,]-?(NaN|Infinity)")


class PartCodec(Generic[T]):
    """JSON of one frozen dataclass type.

    Doubles come back bit for bit. NaN and infinity are refused when written: pydantic would store them as null, and a null read
    back as "not known" where a number was lost is a silent change of state.
    """

    def __init__(self, kind: type[T]) -> None:
        """kind : a dataclass of plain fields, tuples, enums, datetimes and other such dataclasses."""
        self._kind = kind
        # A tuple round the type, because pydantic takes no configuration beside a dataclass but hands it down to one.
        wrapped: Any = GenericAlias(tuple, (kind,))
        self._adapter: TypeAdapter[tuple[T]] = TypeAdapter(wrapped, config=_STRICT)

    def encode(self, value: T) -> bytes:
        """JSON of the value. Raises ValueError where a number in it is not finite."""
        body = self._adapter.dump_json((value,))
        if _NOT_FINITE.search(body):
            try:
                self._adapter.validate_json(body)
            except ValidationError as error:
                raise ValueError(f"{self._kind.__name__} holds a number that is not finite: {_where(error)}") from error
        return body

    def decode(self, body: bytes) -> T:
        """The value. Raises JournalDamaged where the bytes are not exactly one of this type."""
        try:
            return self._adapter.validate_json(body)[0]
        except ValidationError as error:
            raise JournalDamaged(
                f"stored part {self._kind.__name__}: {_where(error)}. It can't be trusted, so nothing is fed. Install the "
                f"version that wrote the journal, or move the journal aside to start with an empty one and wait a day."
            ) from error


def _where(error: ValidationError) -> str:
    first: Any = error.errors(include_url=False)[0]
    path = ".".join(str(step) for step in first["loc"][1:]) or "the whole"
    return f"{path}: {first['msg']} (found {str(first.get('input'))[:60]!r})"


@dataclass(frozen=True, slots=True)
class StoredState:
    """What the journal knows at a start.

    parts : durable parts by name, as JSON bytes
    ledger : with reservations that a crash left open booked in full; None before the first entry
    last_utc, last_clock_s, last_step_no : of the last committed step, None in a new journal
    clean_stop : the run before ended in order (True in a new journal)
    starts : how many runs there were; starts_s : plant clock at the newest of them, oldest first
    crash_booked : feeders whose open reservation was booked in full
    """

    parts: dict[str, bytes]
    ledger: Ledger | None
    last_utc: datetime | None
    last_clock_s: float | None
    last_step_no: int | None
    clean_stop: bool
    starts: int
    starts_s: tuple[float, ...]
    crash_booked: tuple[str, ...] = ()
