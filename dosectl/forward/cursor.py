"""What forwarding needs of the record: rows in order, and a cursor that moves only after the server has said yes."""

from datetime import datetime
from typing import Protocol

from dosectl.model.telemetry import TelemetryPoint


class Outbox(Protocol):
    """Telemetry rows and the cursor over them; used by one thread."""

    def pending(self, limit: int) -> tuple[tuple[int, TelemetryPoint], ...]:
        """The oldest unsent points with their row ids, in order."""
        ...

    def advance(self, sent_id: int) -> None:
        """Everything up to and with `sent_id` is at the server; in a commit of its own."""
        ...

    def reject(self, row_id: int, line: str, why: str, at: datetime) -> None:
        """Sets a row aside that the server refuses."""
        ...

    def kinds(self) -> dict[str, str]:
        """The kind that each `measurement.field` has had from its first point on."""
        ...

    def learn_kinds(self, kinds: dict[str, str]) -> None:
        """Remembers kinds of new names; before their first line leaves."""
        ...

    def oldest_utc(self) -> datetime | None:
        """Time of the oldest unsent point, None where all is sent."""
        ...

    def close(self) -> None:
        """Lets the record go."""
        ...
