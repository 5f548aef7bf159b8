"""The journal's side of forwarding: telemetry rows in order, and how far they were sent. A connection of its own."""

import json
import sqlite3
from datetime import datetime
from pathlib import Path
from types import TracebackType
from typing import Any, Self

from dosectl.model.telemetry import TelemetryPoint
from dosectl.store.connect import transaction, writer
from dosectl.store.faults import translated
from dosectl.store.instants import from_us, to_us


class TelemetryOutbox:
    """Rows after the cursor; the cursor moves in a commit of its own, after the server has said yes.

    Belongs to one thread at a time. Errors are the journal's: JournalFull, JournalFailed, JournalDamaged.
    """

    def __init__(self, path: Path) -> None:
        """path : of a journal that exists."""
        self._path = path
        try:
            self._connection = writer(path, full=False)
        except sqlite3.Error as error:
            raise translated(error, path, "opening the telemetry rows") from error

    def __enter__(self) -> Self:
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None) -> None:
        self.close()

    def pending(self, limit: int) -> tuple[tuple[int, TelemetryPoint], ...]:
        """The oldest unsent points with their row ids, in order."""
        rows = self._all(
            "SELECT id, at_us, measurement, tags, fields FROM telemetry "
            "WHERE id > coalesce((SELECT sent_id FROM forward_cursor), 0) ORDER BY id LIMIT ?",
            (limit,),
        )
        return tuple((row[0], point(row[1:])) for row in rows)

    def advance(self, sent_id: int) -> None:
        """Everything up to and with `sent_id` is at the server. Never moves back."""
        with transaction(self._connection, self._path, "moving the forwarding cursor"):
            self._connection.execute(
                "INSERT INTO forward_cursor VALUES (1, ?) "
                "ON CONFLICT (one) DO UPDATE SET sent_id = max(sent_id, excluded.sent_id)",
                (sent_id,),
            )

    def reject(self, row_id: int, line: str, why: str, at: datetime) -> None:
        """Sets a row aside that the server refuses, so that the others go on."""
        with transaction(self._connection, self._path, "setting a refused row aside"):
            self._connection.execute(
                "INSERT OR REPLACE INTO forward_rejects VALUES (?, ?, ?, ?)", (row_id, to_us(at), line[:2000], why[:500])
            )

    def kinds(self) -> dict[str, str]:
        """The kind that each `measurement.field` has had from its first point on."""
        return dict(self._all("SELECT name, kind FROM forward_types"))

    def learn_kinds(self, kinds: dict[str, str]) -> None:
        """Remembers kinds of new names; a known name keeps its own."""
        with transaction(self._connection, self._path, "recording field types"):
            self._connection.executemany("INSERT OR IGNORE INTO forward_types VALUES (?, ?)", sorted(kinds.items()))

    def oldest_utc(self) -> datetime | None:
        """Time of the oldest unsent point, None where all is sent."""
        rows = self._all(
            "SELECT at_us FROM telemetry WHERE id > coalesce((SELECT sent_id FROM forward_cursor), 0) ORDER BY id LIMIT 1"
        )
        return from_us(rows[0][0]) if rows else None

    def close(self) -> None:
        """Closes the connection."""
        self._connection.close()

    def _all(self, sql: str, values: tuple[object, ...] = ()) -> list[tuple[Any, ...]]:
        try:
            return self._connection.execute(sql, values).fetchall()
        except sqlite3.Error as error:
            raise translated(error, self._path, "reading telemetry rows") from error


def point(row: tuple[object, ...]) -> TelemetryPoint:
    """A point of a row (at_us, measurement, tags, fields)."""
    at_us, measurement, tags, fields = row
    assert isinstance(at_us, int)
    return TelemetryPoint(
        str(measurement), tuple(json.loads(str(tags)).items()), tuple(json.loads(str(fields)).items()), from_us(at_us)
    )
