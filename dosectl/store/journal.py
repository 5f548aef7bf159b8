"""The journal of record: one writer, debit before dose.

An entry that says `durable_now` is on the disk when `commit` returns, with all that waited before it, in one transaction. Others
wait a few seconds and go together. A commit that fails raises, keeps what it had, and the next one tries again: so a full disk
stops the feeding and mends by itself.
"""

import sqlite3
import time
import zlib
from datetime import datetime
from pathlib import Path
from typing import Self

from dosectl.model.ledger import Ledger
from dosectl.store import ledger_rows
from dosectl.store.backlog import Backlog
from dosectl.store.call_rows import write_calls
from dosectl.store.capture_rows import CaptureRows, keep_round
from dosectl.store.connect import transaction, writer
from dosectl.store.durable import StoredState
from dosectl.store.entry import JournalEntry
from dosectl.store.faults import JournalError, JournalFull, translated
from dosectl.store.instants import from_us, to_ms, to_us
from dosectl.store.lock import InstanceLock
from dosectl.store.opening import checked, make_empty
from dosectl.store.reserve import Reserve, free_bytes
from dosectl.store.rows import ChangeFilter, facts_json, write_step
from dosectl.store.samples import SampleRows

GROUP_S = 5.0
"""Longest time that an entry which is not urgent waits for its commit: what a power cut can lose of the record."""
GROUP_ENTRIES = 500
LEDGER_WINDOW_S = 180 * 86_400.0
"""Closed ledger entries handed back at a start [s of plant clock]: longer than any limit's window."""
RAW_WAITING_MAX = 50_000


class Journal:
    """Use `Journal.open`. Not for several threads: retention and forwarding have connections of their own."""

    def __init__(self, path: Path, lock: InstanceLock | None, full: sqlite3.Connection, normal: sqlite3.Connection) -> None:
        """Of `open`."""
        self.path = path
        self._lock = lock
        self._full = full
        self._normal = normal
        self._disk = Ledger(())
        self._backlog = Backlog()
        self._changed = ChangeFilter()
        self._samples = SampleRows(full)
        self._captures = CaptureRows()
        self._waiting_since: float | None = None
        self._failures = 0
        self.reserve = Reserve(path)

    @classmethod
    def open(cls, path: Path, *, readonly: bool = False) -> Self:
        """Opens, checks and migrates the journal; makes it where there is none.

        readonly : no lock, no migration, no writing; the file must exist.
        Raises JournalInUse, JournalDamaged, JournalNewer, JournalFailed or JournalFull, each saying what to do.
        """
        lock = None if readonly else InstanceLock(path)
        full: sqlite3.Connection | None = None
        normal: sqlite3.Connection | None = None
        try:
            if not readonly and not path.exists():
                make_empty(path)
            full = checked(path, readonly)
            normal = full if readonly else writer(path, full=False)
            journal = cls(path, lock, full, normal)
            journal.load()
        except sqlite3.Error as error:
            _release(lock, full, normal)
            raise translated(error, path, "opening the journal") from error
        except BaseException:
            _release(lock, full, normal)
            raise
        if not readonly:
            journal.reserve.take()
        return journal

    @property
    def ok(self) -> bool:
        """The last commit held."""
        return self._failures == 0

    @property
    def waiting(self) -> int:
        """Entries not yet on the disk."""
        return len(self._backlog)

    @property
    def needs_room(self) -> bool:
        """The reserve is gone: retention must run now."""
        return self._lock is not None and not self.reserve.held

    @property
    def free_bytes(self) -> int | None:
        """Room on the journal's disk."""
        return free_bytes(self.path)

    def load(self, window_s: float = LEDGER_WINDOW_S) -> StoredState:
        """Everything durable. Reservations left open by a crash come back closed, booked in full; the next commit writes that."""
        try:
            parts = dict(self._full.execute("SELECT name, body FROM parts").fetchall())
            last = self._full.execute("SELECT step_no, at_us, clock_s FROM last").fetchone()
            starts = self._full.execute("SELECT count(*) FROM starts").fetchone()[0]
            newest = self._full.execute("SELECT clock_s, stopped_us FROM starts ORDER BY id DESC LIMIT 100").fetchall()
            clock_s = last[2] if last else 0.0
            stored = ledger_rows.read(self._full, clock_s - window_s)
        except sqlite3.Error as error:
            raise translated(error, self.path, "reading the stored state") from error
        self._disk = stored or Ledger(())
        booked = () if stored is None else tuple(str(entry.feeder) for entry in stored.feeders if entry.open is not None)
        return StoredState(
            parts=parts,
            ledger=None if stored is None else ledger_rows.booked_in_full(stored, clock_s),
            last_utc=from_us(last[1]) if last else None,
            last_clock_s=last[2] if last else None,
            last_step_no=last[0] if last else None,
            clean_stop=not newest or newest[0][1] is not None,
            starts=starts,
            starts_s=tuple(row[0] for row in reversed(newest)),
            crash_booked=booked,
        )

    def commit(self, entry: JournalEntry, *, durable_now: bool) -> None:
        """Takes one step's entry.

        durable_now : it is on the disk when this returns; for a debit, latch, request, trip or alarm change.
        Raises JournalFull, JournalFailed or JournalDamaged: then nothing that this entry permits may be done. The entry is kept
        and goes with the next commit, as the step has happened all the same.
        """
        self._take(entry)
        if self._waiting_since is None:
            self._waiting_since = time.monotonic()
        due = time.monotonic() - self._waiting_since >= GROUP_S or len(self._backlog) >= GROUP_ENTRIES
        if durable_now or due or self._failures:
            # what failed may have been urgent, and a step that follows may rely on it
            self._write(urgent=durable_now or self._failures > 0)

    def flush(self) -> None:
        """Writes all that waits, to the disk. Raises as `commit` does."""
        if self._backlog:
            self._write(urgent=True)

    def mark_start(self, at_utc: datetime, clock_s: float) -> None:
        """A run begins: until `mark_clean_stop` any end of it counts as a crash. Raises as `commit` does."""
        with transaction(self._full, self.path, "recording the start"):
            self._full.execute("INSERT INTO starts (at_us, clock_s) VALUES (?, ?)", (to_us(at_utc), clock_s))

    def mark_clean_stop(self, at_utc: datetime) -> None:
        """The run ends in order, all feeders confirmed off. Writes what waits first. Raises as `commit` does."""
        self.flush()
        with transaction(self._full, self.path, "recording the stop"):
            self._full.execute("UPDATE starts SET stopped_us = ? WHERE id = (SELECT max(id) FROM starts)", (to_us(at_utc),))

    def close(self) -> None:
        """Closes the file and lets the lock go. What waits is not written: that is `flush`, whose failure the caller must see."""
        _release(self._lock, self._normal, self._full)

    def _take(self, entry: JournalEntry) -> None:
        self._backlog.add(entry)
        if entry.snapshot is not None:
            self._captures.add(entry.snapshot)
        at_ms = to_ms(entry.at_utc)
        for reading in entry.readings:
            read_ms = at_ms if reading.at_s is None else at_ms - round((entry.clock_s - reading.at_s) * 1000)
            self._samples.status(reading.signal, at_ms, int(reading.status), "" if reading.why is None else reading.why.code)
            if reading.value is not None:
                self._samples.add(reading.signal, read_ms, float(reading.value))
        for name, value in entry.figures:
            self._samples.add(name, at_ms, value, figure=True)

    def _write(self, *, urgent: bool) -> None:
        connection = self._full if urgent else self._normal
        try:
            with transaction(connection, self.path, "writing the record"):
                disk = self._write_all(connection, urgent)
        except BaseException as error:
            self._changed.forget()
            if isinstance(error, JournalError):
                self._failed(error)
            raise
        self._disk = disk
        self._changed.settle()
        self._samples.settle()
        self._captures.settle()
        self._backlog.clear()
        self._waiting_since = None
        self._failures = 0

    def _write_all(self, connection: sqlite3.Connection, urgent: bool) -> Ledger:
        disk = self._disk
        last = None
        for last in self._backlog.entries:
            if last.ledger is not None and last.ledger is not disk:
                ledger_rows.write(connection, ledger_rows.changes(disk, last.ledger), to_us(last.at_utc))
                disk = ledger_rows.merged(disk, last.ledger)
            write_step(connection, last, self._changed, disk.next_no)
            write_calls(connection, last)
            if last.keep:
                keep_round(connection, to_ms(last.at_utc), last.keep)
            if last.checkpoint is not None:
                connection.execute(
                    "INSERT INTO checkpoints (at_ms, step_no, body) VALUES (?, ?, ?)",
                    (to_ms(last.at_utc), last.step_no, zlib.compress(last.checkpoint)),
                )
        if last is not None:
            self._samples.write(connection)
            self._captures.write(connection, last.plan_digest, urgent=urgent)
            self._write_gaps(connection, last)
        return disk

    def _write_gaps(self, connection: sqlite3.Connection, last: JournalEntry) -> None:
        """Says in the record itself that it was written late, and what it lacks."""
        if not self._failures:
            return
        for what, rows in self._backlog.lost.items():
            connection.execute(
                "INSERT INTO lost VALUES (?, ?) ON CONFLICT (what) DO UPDATE SET rows = rows + excluded.rows", (what, rows)
            )
        facts = (("failed", self._failures), ("entries", len(self._backlog)), ("lost", sum(self._backlog.lost.values())))
        connection.execute(
            "INSERT INTO events (at_us, step_no, code, facts) VALUES (?, ?, 'journal.late', ?)",
            (to_us(last.at_utc), last.step_no, facts_json(facts)),
        )

    def _failed(self, error: JournalError) -> None:
        self._failures += 1
        if isinstance(error, JournalFull):
            self.reserve.give()
        self._backlog.shed()
        self._backlog.count("raw", self._samples.shed(RAW_WAITING_MAX))
        self._backlog.count("snapshots", self._captures.shed(GROUP_ENTRIES))


def _release(lock: InstanceLock | None, *connections: sqlite3.Connection | None) -> None:
    for connection in connections:
        if connection is not None:
            connection.close()
    if lock is not None:
        lock.release()
