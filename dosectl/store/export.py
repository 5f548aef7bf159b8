"""The record as plain files: CSV and JSON lines, one table a call."""

import csv
import json
import sqlite3
from collections.abc import Iterator
from datetime import datetime
from pathlib import Path
from typing import Any, TextIO

from dosectl.store.faults import JournalFailed, translated
from dosectl.store.instants import from_ms, from_us, to_us
from dosectl.store.opening import checked
from dosectl.store.samples import MINUTE_MS, SIGNALS_MAX

_AT_US = {
    "ledger": "opened_us",
    "events": "at_us",
    "alarms": "at_us",
    "decisions": "at_us",
    "commands": "at_us",
    "requests": "at_us",
    "replies": "at_us",
    "tests": "taken_us",
    "telemetry": "at_us",
}
_UNIT_MS = {"raw": 1, "minutes": MINUTE_MS, "hours": 60 * MINUTE_MS}
_JSON_COLUMNS = {"facts", "reasons", "tags", "fields", "arguments"}
TABLES = (*_AT_US, *_UNIT_MS)
"""What can be exported."""


def rows(path: Path, table: str, start: datetime, end: datetime) -> Iterator[dict[str, Any]]:
    """Rows of a table in order of time; times as ISO 8601 in UTC, readings with their signal's name.

    Raises JournalFailed for an unknown table, and the journal's errors where the file can't be read.
    """
    if table not in TABLES:
        raise JournalFailed(f"{table}: there is no such table in the record. Take one of: {', '.join(TABLES)}.")
    connection = checked(path, readonly=True)
    try:
        connection.row_factory = sqlite3.Row
        for row in connection.execute(*_query(table, start, end)):
            yield _shown(dict(row))
    except sqlite3.Error as error:
        raise translated(error, path, f"exporting {table}") from error
    finally:
        connection.close()


def to_csv(path: Path, table: str, start: datetime, end: datetime, out: TextIO) -> int:
    """Writes CSV with a header (none where there are no rows); says how many rows."""
    count = 0
    writer: Any = None
    for row in rows(path, table, start, end):
        if writer is None:
            writer = csv.DictWriter(out, list(row), lineterminator="\n")
            writer.writeheader()
        writer.writerow({name: json.dumps(value) if isinstance(value, dict | list) else value for name, value in row.items()})
        count += 1
    return count


def to_json_lines(path: Path, table: str, start: datetime, end: datetime, out: TextIO) -> int:
    """Writes one JSON object a line; says how many."""
    count = 0
    for row in rows(path, table, start, end):
        out.write(json.dumps(row, ensure_ascii=False) + "\n")
        count += 1
    return count


def _query(table: str, start: datetime, end: datetime) -> tuple[str, tuple[int, int]]:
    first, last = to_us(start), to_us(end)
    if table in _AT_US:
        at = _AT_US[table]
        return f"SELECT * FROM {table} WHERE {at} >= ? AND {at} < ? ORDER BY {at}, rowid", (first, last)
    unit_us = _UNIT_MS[table] * 1000
    columns = "value" if table == "raw" else "mean, coalesce(low, mean) AS low, coalesce(high, mean) AS high, n"
    return (
        f"SELECT key / {SIGNALS_MAX} * {_UNIT_MS[table]} AS at_ms, signals.name AS signal, {columns} FROM {table} "
        f"JOIN signals ON signals.id = key % {SIGNALS_MAX} WHERE key >= ? AND key < ? ORDER BY key",
        (-(-first // unit_us) * SIGNALS_MAX, -(-last // unit_us) * SIGNALS_MAX),
    )


def _shown(row: dict[str, Any]) -> dict[str, Any]:
    shown: dict[str, Any] = {}
    for name, value in row.items():
        if name.endswith("_us"):
            shown[name[:-3] + "_utc"] = None if value is None else from_us(value).isoformat()
        elif name.endswith("_ms"):
            shown[name[:-3] + "_utc"] = from_ms(value).isoformat()
        elif name in _JSON_COLUMNS:
            shown[name] = json.loads(value)
        else:
            shown[name] = value
    return shown
