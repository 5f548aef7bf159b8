"""Readings as compact rows: raw on change and once a minute, and minute roll-ups with mean, lowest, highest and count.

A switch that repeats the same value each 3 s makes one raw row a minute; every change is kept at its own millisecond.
"""

import math
import sqlite3
from collections.abc import Iterable
from dataclasses import dataclass

SIGNALS_MAX = 1024
"""Keys of rows are time * 1024 + signal id."""
HEARTBEAT_MS = 60_000
RollUp = tuple[float, float | None, float | None, int]
"""Mean, lowest, highest, count; lowest and highest are None where they equal the mean."""
MINUTE_MS = 60_000


@dataclass(slots=True)
class _Running:
    """Roll-up of the running minute of one signal."""

    minute: int
    total: float = 0.0
    low: float = math.inf
    high: float = -math.inf
    n: int = 0

    def add(self, value: float) -> None:
        self.total += value
        self.low = min(self.low, value)
        self.high = max(self.high, value)
        self.n += 1


@dataclass(slots=True)
class _Known:
    """What was last written of one signal."""

    raw_ms: int = -1
    value: float | None = None
    status: tuple[int, str] | None = None


class SampleRows:
    """Collects values between commits and writes them in the caller's transaction. One object per journal."""

    def __init__(self, connection: sqlite3.Connection) -> None:
        """Reads the table of signal names."""
        self._ids: dict[str, int] = dict(connection.execute("SELECT name, id FROM signals").fetchall())
        self._new_names: list[tuple[int, str, bool]] = []
        self._known: dict[int, _Known] = {}
        self._running: dict[int, _Running] = {}
        self._raw: list[tuple[int, float]] = []
        self._minutes: dict[int, RollUp] = {}
        self._statuses: list[tuple[int, int, int, str]] = []
        self._joins: set[int] = set()  # keys of minutes that the run before may have begun, or this one before a clock went back
        self._newest: dict[int, int] = {}  # signal -> newest minute begun in this run
        self._before: dict[int, RollUp | None] = {}

    def add(self, name: str, at_ms: int, value: float, *, figure: bool = False) -> None:
        """One good value. Not finite: left out (a probe's judgement never lets one through)."""
        if not math.isfinite(value):
            return
        signal = self._id(name, figure)
        known = self._known.setdefault(signal, _Known())
        if value != known.value or not 0 <= at_ms - known.raw_ms < HEARTBEAT_MS:
            # Two edges in one millisecond are both evidence: the second goes to the next millisecond.
            moment = at_ms + 1 if at_ms == known.raw_ms else at_ms
            self._raw.append((moment * SIGNALS_MAX + signal, value))
            known.raw_ms, known.value = moment, value
        minute = at_ms // MINUTE_MS
        running = self._running.get(signal)
        if running is None or running.minute != minute:
            if running is not None:
                self._finish(signal, running)
            running = self._running[signal] = _Running(minute)
            self._begin(signal, minute)
        running.add(value)

    def status(self, name: str, at_ms: int, status: int, code: str) -> None:
        """The status of a signal; written where it changed."""
        signal = self._id(name, False)
        known = self._known.setdefault(signal, _Known())
        if known.status != (status, code):
            known.status = (status, code)
            self._statuses.append((at_ms, signal, status, code))
            known.value = None  # the first value after a doubt is always written

    def write(self, connection: sqlite3.Connection) -> None:
        """Writes everything collected, the running minutes too: a crash loses no more of them than of anything else."""
        connection.executemany("INSERT OR IGNORE INTO signals VALUES (?, ?, ?)", self._new_names)
        connection.executemany("INSERT OR REPLACE INTO raw VALUES (?, ?)", self._raw)
        for signal, running in self._running.items():
            self._finish(signal, running)
        for key, row in self._minutes.items():
            self._write_minute(connection, key, row)
        connection.executemany("INSERT INTO statuses (at_ms, signal, status, code) VALUES (?, ?, ?, ?)", self._statuses)

    def settle(self) -> None:
        """The transaction held: what was collected is on the disk."""
        self._new_names, self._raw, self._statuses, self._minutes = [], [], [], {}

    def shed(self, rows_max: int) -> int:
        """Throws away the oldest raw rows beyond `rows_max` (the disk is full); says how many. Roll-ups stay."""
        surplus = max(len(self._raw) - rows_max, 0)
        self._raw = self._raw[surplus:]
        return surplus

    def _id(self, name: str, figure: bool) -> int:
        known = self._ids.get(name)
        if known is None:
            known = max(self._ids.values(), default=0) + 1
            if known >= SIGNALS_MAX:
                raise ValueError(f"signal {name!r} would be number {known}; a journal holds at most {SIGNALS_MAX - 1} names")
            self._ids[name] = known
            self._new_names.append((known, name, figure))
        return known

    def _begin(self, signal: int, minute: int) -> None:
        key = minute * SIGNALS_MAX + signal
        if minute <= self._newest.get(signal, minute):
            self._joins.add(key)
            self._before.pop(key, None)
        self._newest[signal] = max(minute, self._newest.get(signal, minute))

    def _finish(self, signal: int, running: _Running) -> None:
        mean = running.total / running.n
        low = None if running.low == mean else running.low
        high = None if running.high == mean else running.high
        self._minutes[running.minute * SIGNALS_MAX + signal] = (mean, low, high, running.n)

    def _write_minute(self, connection: sqlite3.Connection, key: int, row: RollUp) -> None:
        if key in self._joins:
            row = self._with_before(connection, key, row)
        connection.execute("INSERT OR REPLACE INTO minutes VALUES (?, ?, ?, ?, ?)", (key, *row))

    def _with_before(self, connection: sqlite3.Connection, key: int, row: RollUp) -> RollUp:
        """A minute that was begun before goes on from what the disk has of it."""
        if key not in self._before:
            self._before[key] = connection.execute("SELECT mean, low, high, n FROM minutes WHERE key = ?", (key,)).fetchone()
        return joined(tuple(part for part in (self._before[key], row) if part is not None))


def joined(rows: Iterable[RollUp]) -> RollUp:
    """One roll-up of several: the mean weighted by count. Raises ValueError without rows."""
    total, low, high, n = 0.0, math.inf, -math.inf, 0
    for mean, least, most, count in rows:
        total += mean * count
        low = min(low, mean if least is None else least)
        high = max(high, mean if most is None else most)
        n += count
    if n == 0:
        raise ValueError("no rows to join")
    mean = low if low == high else total / n
    return mean, None if low == mean else low, None if high == mean else high, n
