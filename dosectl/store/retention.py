"""What is kept how long. Run by the calendar, in small chunks, on a connection of its own: dosing never waits for it."""

import sqlite3
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, replace
from datetime import datetime
from pathlib import Path

from dosectl.store.connect import transaction, writer
from dosectl.store.faults import translated
from dosectl.store.instants import to_ms
from dosectl.store.reserve import Reserve
from dosectl.store.samples import MINUTE_MS, SIGNALS_MAX, joined

DAY_MS = 86_400_000
HOUR_MINUTES = 60
CHUNK_ROWS = 500
PAUSE_S = 0.01  # the core's own commit gets its turn between chunks


@dataclass(frozen=True, slots=True)
class Horizons:
    """How long [days]. Ledger, events, alarms, decisions, commands, tests, replies and hourly roll-ups stay for ever."""

    raw_days: float = 14.0
    captures_days: float = 7.0
    windows: int = 60
    minutes_days: float = 731.0
    figure_minutes_days: float = 60.0
    refreshes_days: float = 14.0
    sent_days: float = 1.0
    unsent_days: float = 90.0
    statuses_days: float = 731.0


URGENT = replace(
    Horizons(), raw_days=3.0, captures_days=1.0, windows=10, figure_minutes_days=7.0, sent_days=0.0, refreshes_days=1.0
)
"""For a full disk: the record of the last days, all that is kept for ever, and nothing else."""


@dataclass(slots=True)
class Kept:
    """What one run did: rows thrown away by table, hours rolled up, bytes given back to the disk."""

    thrown: dict[str, int] = field(default_factory=dict)
    hours: int = 0
    freed_bytes: int = 0


class Retention:
    """One run at a time; give `pause` to wait otherwise than by sleeping."""

    def __init__(self, path: Path, horizons: Horizons | None = None, pause: Callable[[float], None] = time.sleep) -> None:
        """path : of a journal that exists."""
        self._path = path
        self._horizons = horizons or Horizons()
        self._pause = pause

    def run(self, now: datetime, *, urgent: bool = False) -> Kept:
        """Rolls up hours and throws away what is older than its horizon, as of `now`.

        urgent : the disk is full; shorter horizons, and room is given back to the disk. The reserve is taken again where it fits.
        Raises JournalFull, JournalFailed or JournalDamaged.
        """
        kept = Kept()
        try:
            connection = writer(self._path, full=False)
        except sqlite3.Error as error:
            raise translated(error, self._path, "opening for retention") from error
        try:
            horizons = URGENT if urgent else self._horizons
            now_ms = to_ms(now)
            self._throw_all(connection, horizons, now_ms, kept)
            if urgent:
                kept.freed_bytes = self._give_room_back(connection)
            self._roll_hours(connection, now_ms, kept)
        except sqlite3.Error as error:
            raise translated(error, self._path, "throwing old rows away") from error
        finally:
            connection.close()
        Reserve(self._path).take()
        return kept

    def _throw_all(self, connection: sqlite3.Connection, horizons: Horizons, now_ms: int, kept: Kept) -> None:
        self._throw(
            connection,
            kept,
            "windows",
            "id <= (SELECT id FROM windows ORDER BY id DESC LIMIT 1 OFFSET ?)",
            (horizons.windows,),
            "id",
        )
        windows = connection.execute("SELECT from_ms, to_ms FROM windows").fetchall()
        for start, end in gaps(windows, round(now_ms - horizons.captures_days * DAY_MS)):
            self._throw(connection, kept, "captures", "to_ms >= ? AND to_ms < ?", (start, end), "id")
            self._throw(connection, kept, "checkpoints", "at_ms >= ? AND at_ms < ?", (start, end), "id")
        for start, end in gaps(windows, round(now_ms - horizons.raw_days * DAY_MS)):
            self._throw(connection, kept, "raw", "key >= ? AND key < ?", (start * SIGNALS_MAX, end * SIGNALS_MAX), "key")
        oldest = round(now_ms - horizons.minutes_days * DAY_MS) // MINUTE_MS * SIGNALS_MAX
        self._throw(connection, kept, "minutes", "key < ?", (oldest,), "key")
        oldest = round(now_ms - horizons.figure_minutes_days * DAY_MS) // MINUTE_MS * SIGNALS_MAX
        figures = f"key < ? AND (key % {SIGNALS_MAX}) IN (SELECT id FROM signals WHERE figure)"
        floor = connection.execute("SELECT coalesce((SELECT value FROM marks WHERE name = 'figures.thinned'), 0)").fetchone()[0]
        self._throw(connection, kept, "minutes", f"key >= ? AND {figures}", (floor, oldest), "key")
        with transaction(connection, self._path, "recording how far figures were thinned"):
            connection.execute("INSERT OR REPLACE INTO marks VALUES ('figures.thinned', ?)", (oldest,))
        self._throw(
            connection,
            kept,
            "decisions",
            "again AND at_us < ?",
            (round((now_ms - horizons.refreshes_days * DAY_MS) * 1000),),
            "id",
        )
        self._throw(connection, kept, "statuses", "at_ms < ?", (round(now_ms - horizons.statuses_days * DAY_MS),), "id")
        self._throw_telemetry(connection, horizons, now_ms, kept)

    def _throw_telemetry(self, connection: sqlite3.Connection, horizons: Horizons, now_ms: int, kept: Kept) -> None:
        sent = connection.execute("SELECT coalesce((SELECT sent_id FROM forward_cursor), 0)").fetchone()[0]
        before = round((now_ms - horizons.sent_days * DAY_MS) * 1000)
        self._throw(connection, kept, "telemetry", "id <= ? AND at_us < ?", (sent, before), "id")
        before = round((now_ms - horizons.unsent_days * DAY_MS) * 1000)
        thrown = self._throw(connection, kept, "telemetry", "id > ? AND at_us < ?", (sent, before), "id")
        if thrown:
            with transaction(connection, self._path, "counting telemetry that was never sent"):
                connection.execute(
                    "INSERT INTO lost VALUES ('telemetry', ?) ON CONFLICT (what) DO UPDATE SET rows = rows + excluded.rows",
                    (thrown,),
                )

    def _throw(
        self, connection: sqlite3.Connection, kept: Kept, table: str, where: str, values: tuple[int, ...], key: str
    ) -> int:
        total = 0
        while True:
            with transaction(connection, self._path, f"throwing old {table} away"):
                chosen = f"SELECT {key} FROM {table} WHERE {where} ORDER BY {key} LIMIT {CHUNK_ROWS}"
                done = connection.execute(f"DELETE FROM {table} WHERE {key} IN ({chosen})", values).rowcount
            total += done
            if done < CHUNK_ROWS:
                break
            self._pause(PAUSE_S)
        if total:
            kept.thrown[table] = kept.thrown.get(table, 0) + total
        return total

    def _roll_hours(self, connection: sqlite3.Connection, now_ms: int, kept: Kept) -> None:
        """Hours that are over, each from its minutes, once."""
        newest = connection.execute("SELECT max(key) FROM hours").fetchone()[0]
        oldest = connection.execute("SELECT min(key) FROM minutes").fetchone()[0]
        if oldest is None:
            return
        hour = oldest // SIGNALS_MAX // HOUR_MINUTES if newest is None else newest // SIGNALS_MAX + 1
        last = now_ms // MINUTE_MS // HOUR_MINUTES
        while hour < last:
            span = (hour * HOUR_MINUTES * SIGNALS_MAX, (hour + 1) * HOUR_MINUTES * SIGNALS_MAX)
            by_signal: dict[int, list[tuple[float, float | None, float | None, int]]] = {}
            for key, *row in connection.execute("SELECT key, mean, low, high, n FROM minutes WHERE key >= ? AND key < ?", span):
                by_signal.setdefault(key % SIGNALS_MAX, []).append((row[0], row[1], row[2], row[3]))
            if by_signal:
                rolled = [(hour * SIGNALS_MAX + signal, *joined(rows)) for signal, rows in by_signal.items()]
                with transaction(connection, self._path, "rolling up an hour"):
                    connection.executemany("INSERT OR REPLACE INTO hours VALUES (?, ?, ?, ?, ?)", rolled)
                kept.hours += 1
                hour += 1
            else:
                following = connection.execute("SELECT min(key) FROM minutes WHERE key >= ?", (span[1],)).fetchone()[0]
                if following is None:
                    return
                hour = following // SIGNALS_MAX // HOUR_MINUTES

    def _give_room_back(self, connection: sqlite3.Connection) -> int:
        before = self._path.stat().st_size
        spare = connection.execute("PRAGMA freelist_count").fetchone()[0]
        for _ in range(spare // CHUNK_ROWS + 1):
            # Not `execute`: that steps such a pragma once, which gives back one page.
            connection.executescript(f"PRAGMA incremental_vacuum({CHUNK_ROWS});")
            self._pause(PAUSE_S)
        connection.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchall()
        return before - self._path.stat().st_size


def gaps(windows: list[tuple[int, int]], until: int) -> Iterator[tuple[int, int]]:
    """The stretches of time before `until` that no window keeps, oldest first."""
    start = 0
    for from_, to in sorted(windows):
        if from_ >= until:
            break
        if from_ > start:
            yield start, from_
        start = max(start, to + 1)
    if start < until:
        yield start, until
