"""Looks into a journal with SQL of its own, beside or after its daemon."""

import json
import sqlite3
from pathlib import Path
from typing import Any


def rows(journal: Path, query: str, *values: object) -> list[tuple[Any, ...]]:
    """All rows of a query, read-only."""
    connection = sqlite3.connect(f"file:{journal}?mode=ro", uri=True, timeout=10)
    try:
        return connection.execute(query, values).fetchall()
    finally:
        connection.close()


def booked_g(journal: Path, feeder: str) -> float:
    """What the ledger holds for a feeder: closed entries as booked, open ones in full [g]."""
    query = "SELECT coalesce(sum(CASE WHEN closed_s IS NULL THEN reserved_g ELSE fed_g END), 0) FROM ledger WHERE feeder = ?"
    return float(rows(journal, query, feeder)[0][0])


def events(journal: Path, code: str) -> list[dict[str, Any]]:
    """Facts of all events of a code, in order."""
    return [_facts(body) for (body,) in rows(journal, "SELECT facts FROM events WHERE code = ? ORDER BY id", code)]


def alarms(journal: Path) -> set[str]:
    """Codes of all alarms that ever changed."""
    return {code for (code,) in rows(journal, "SELECT DISTINCT code FROM alarms")}


def _facts(body: str) -> dict[str, Any]:
    found = json.loads(body)
    return found if isinstance(found, dict) else dict(found)
