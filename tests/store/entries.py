"""Entries, snapshots and ledgers for the journal's tests."""

import sqlite3
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

from dosectl.model.feeds import FeederId, Substance
from dosectl.model.instant import Instant
from dosectl.model.ledger import Debit, FeederLedger, Ledger
from dosectl.model.reasons import Code, Event
from dosectl.model.signals import Health, Reading, Sample, SignalId, Status
from dosectl.model.snapshot import Snapshot
from dosectl.store.entry import JournalEntry

START = datetime(2026, 6, 1, 6, 0, tzinfo=UTC)
CELL = FeederId("cell")
ACID = FeederId("acid")
EMPTY = Ledger((FeederLedger(CELL, substance=Substance.CHLORINE), FeederLedger(ACID, substance=Substance.ACID)))
HEALTH = Health(journal_ok=True, free_bytes=10**9, bus_alive=True, echo_age_s=0.4, clock_trusted=True)


def instant(after_s: float) -> Instant:
    """`after_s` after the start of the test's day."""
    return Instant(1000.0 + after_s, START + timedelta(seconds=after_s), "boot")


def entry(step_no: int, after_s: float | None = None, **rest: Any) -> JournalEntry:
    """An entry of a step, by default one second after the one before."""
    at_s = float(step_no) if after_s is None else after_s
    return JournalEntry(step_no=step_no, at_utc=START + timedelta(seconds=at_s), clock_s=5000.0 + at_s, **rest)


def event(text: str, after_s: float = 0.0) -> Event:
    """An event with one fact."""
    return Event(Code("test.happened"), instant(after_s), (("text", text),))


def snapshot(step_no: int, after_s: float, **values: float | bool) -> Snapshot:
    """A snapshot with one sample per named signal."""
    now = instant(after_s)
    samples = tuple(Sample(SignalId(name), value, now) for name, value in values.items())
    return Snapshot(step_no, now, samples, HEALTH)


def reading(name: str, value: float | bool | None, after_s: float, status: Status = Status.GOOD) -> Reading:
    """A reading whose sample came `after_s` after the start."""
    return Reading(SignalId(name), status, value, value, None, 5000.0 + after_s)


def opened(ledger: Ledger, feeder: FeederId, at_s: float, reserved_g: float) -> Ledger:
    """With a new reservation."""
    debit = Debit(ledger.next_no, feeder, at_s, at_s, reserved_g)
    return replace(ledger.with_feeder(ledger.of(feeder).with_open(debit)), next_no=ledger.next_no + 1)


def drawn(ledger: Ledger, feeder: FeederId, at_s: float, used_g: float) -> Ledger:
    """With more of the reservation used."""
    return ledger.with_feeder(ledger.of(feeder).drawn(used_g, at_s))


def closed(ledger: Ledger, feeder: FeederId, at_s: float, fed_g: float | None) -> Ledger:
    """With the reservation closed."""
    return ledger.with_feeder(ledger.of(feeder).closed(at_s, fed_g))


def rows(path: Path, sql: str) -> list[tuple[object, ...]]:
    """What the file itself says, read beside whoever writes it."""
    with sqlite3.connect(f"file:{path}?mode=ro", uri=True) as connection:
        return connection.execute(sql).fetchall()
