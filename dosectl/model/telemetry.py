"""A point for the time-series server: written into the journal by the step, sent on from there."""

from dataclasses import dataclass
from datetime import datetime

FieldValue = float | int | bool | str | None


@dataclass(frozen=True, slots=True)
class TelemetryPoint:
    """Fields of one measurement at one moment.

    tags : (name, text) pairs that identify the series; fields : (name, value) pairs, None for "not known" (left out, never zero)
    at_utc : aware UTC of the record, the server's key for writing the same point again
    """

    measurement: str
    tags: tuple[tuple[str, str], ...]
    fields: tuple[tuple[str, FieldValue], ...]
    at_utc: datetime
