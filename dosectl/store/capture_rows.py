"""Captures as rows: the tail of the running minute at each commit, one row a minute later; windows that keep them longer."""

import sqlite3

from dosectl.model.snapshot import Snapshot
from dosectl.store.capture import encode
from dosectl.store.instants import to_ms

MINUTE_MS = 60_000
OVERDUE_MINUTES = 3  # merged even in an urgent commit, so that memory stays bounded
ROUND_MS = 3_600_000  # full inputs stay for an hour before and after a trip
JOIN_MS = 600_000  # trips within ten minutes share a window: a flapping alarm must not push out the others
SPAN_MAX_MS = 4 * ROUND_MS


class CaptureRows:
    """Collects snapshots between commits. `settle` after a commit that held; without it the next write says the same again."""

    def __init__(self) -> None:
        self._new: list[Snapshot] = []
        self._minute: list[Snapshot] = []
        self._tails: list[int] = []
        self._digest = ""
        self._proposed: tuple[list[Snapshot], list[int]] = ([], [])

    def add(self, snapshot: Snapshot) -> None:
        """One step's inputs, in order."""
        self._new.append(snapshot)

    def shed(self, keep: int) -> int:
        """Throws away the oldest unwritten snapshots beyond `keep` (the disk is full); says how many."""
        surplus = max(len(self._new) - keep, 0)
        self._new = self._new[surplus:]
        return surplus

    def write(self, connection: sqlite3.Connection, digest: str, *, urgent: bool) -> None:
        """Writes what is new. urgent : someone waits for this commit, so a minute is merged later unless that is overdue."""
        if not self._new:
            self._proposed = (self._minute, self._tails)
            return
        if digest != self._digest:
            # The plan changed: rows of the old one stay as they are.
            self._minute, self._tails, self._digest = [], [], digest
        minutes = by_minute([*self._minute, *self._new])
        if len(minutes) <= (OVERDUE_MINUTES if urgent else 1):
            self._proposed = ([*self._minute, *self._new], [*self._tails, _insert(connection, tuple(self._new), digest)])
            return
        connection.executemany("DELETE FROM captures WHERE id = ?", [(tail,) for tail in self._tails])
        rows = [_insert(connection, tuple(minute), digest) for minute in minutes]
        self._proposed = (minutes[-1], rows[-1:])

    def settle(self) -> None:
        """The transaction held."""
        self._minute, self._tails = self._proposed
        self._new = []


def by_minute(snapshots: list[Snapshot]) -> list[list[Snapshot]]:
    """The snapshots cut where the minute of their UTC changes, in order."""
    cut: list[list[Snapshot]] = []
    newest = None
    for snapshot in snapshots:
        minute = to_ms(snapshot.now.utc) // MINUTE_MS
        if minute != newest:
            cut.append([])
            newest = minute
        cut[-1].append(snapshot)
    return cut


def _insert(connection: sqlite3.Connection, snapshots: tuple[Snapshot, ...], digest: str) -> int:
    first, last = snapshots[0], snapshots[-1]
    done = connection.execute(
        "INSERT INTO captures (from_ms, to_ms, first_step, last_step, plan_digest, body) VALUES (?, ?, ?, ?, ?, ?)",
        (to_ms(first.now.utc), to_ms(last.now.utc), first.step_no, last.step_no, digest, encode(snapshots)),
    )
    assert done.lastrowid is not None
    return done.lastrowid


def keep_round(connection: sqlite3.Connection, at_ms: int, why: str) -> None:
    """Marks the hour before and after as one to keep; joins the newest window where that is near."""
    newest = connection.execute("SELECT id, from_ms, to_ms FROM windows ORDER BY id DESC LIMIT 1").fetchone()
    if newest is not None:
        number, from_ms, to_ms_ = newest
        near = from_ms <= at_ms <= to_ms_ - ROUND_MS + JOIN_MS and at_ms + ROUND_MS - from_ms <= SPAN_MAX_MS
        if near:
            connection.execute("UPDATE windows SET to_ms = max(to_ms, ?) WHERE id = ?", (at_ms + ROUND_MS, number))
            return
    connection.execute(
        "INSERT INTO windows (at_ms, from_ms, to_ms, why) VALUES (?, ?, ?, ?)", (at_ms, at_ms - ROUND_MS, at_ms + ROUND_MS, why)
    )
