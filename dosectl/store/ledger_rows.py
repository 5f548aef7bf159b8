"""The dose ledger as rows: only what is new against the disk is written, and it is read back to the last bit.

The comparison is with what the disk holds, not with the step before: after commits that failed, the next good one writes all that
is missing.
"""

import sqlite3
from bisect import bisect_left
from collections.abc import Iterator
from dataclasses import dataclass

from dosectl.model.feeds import FeederId, Substance
from dosectl.model.ledger import Debit, FeederLedger, Ledger
from dosectl.store.faults import NewStartNeeded

CRASH_TAIL_S = 90.0
"""A feed may have outlived the last committed clock by one group of commits (5 s) and one command's life (at most 60 s)."""


@dataclass(frozen=True, slots=True)
class Opened:
    """A new reservation, with what its feeder feeds."""

    debit: Debit
    substance: Substance | None


@dataclass(frozen=True, slots=True)
class Drawn:
    """The same reservation, more of it drawn."""

    debit: Debit


@dataclass(frozen=True, slots=True)
class Closed:
    """A closed entry. `no` is None where it was opened and closed between two commits, so that its row is new too."""

    no: int | None
    feeder: FeederId
    substance: Substance | None
    closed_s: float
    fed_g: float
    total_g: float


LedgerOp = Opened | Drawn | Closed


def differences(disk: FeederLedger, now: FeederLedger) -> Iterator[LedgerOp]:
    """What turns the ledger on the disk into `now`. Raises NewStartNeeded where `now` does not follow from it."""
    if now is disk:
        return
    forgotten = bisect_left(disk.times_s, now.times_s[0]) if now.times_s else len(disk.times_s)
    known = len(disk.times_s) - forgotten
    total = now.totals_g[known - 1] if 0 < known <= len(now.totals_g) else now.base_g
    if known > len(now.times_s) or total != disk.closed_g:
        raise NewStartNeeded(
            f"ledger of {now.feeder}: it does not follow from the one on the disk ({total} g against {disk.closed_g} g closed). "
            f"What was fed is in doubt, so nothing is fed. Restart the daemon: it takes the ledger from the disk."
        )
    pending = disk.open.no if disk.open is not None and (now.open is None or now.open.no != disk.open.no) else None
    for closed_s, after_g in zip(now.times_s[known:], now.totals_g[known:], strict=True):
        yield Closed(pending, now.feeder, now.substance, closed_s, after_g - total, after_g)
        pending, total = None, after_g
    if pending is not None:
        raise NewStartNeeded(
            f"ledger of {now.feeder}: reservation {pending} has no closing entry. Restart the daemon: nothing is fed."
        )
    if now.open is None:
        return
    if disk.open is None or disk.open.no != now.open.no:
        yield Opened(now.open, now.substance)
    elif disk.open != now.open:
        yield Drawn(now.open)


def changes(disk: Ledger, now: Ledger) -> tuple[LedgerOp, ...]:
    """All that is new in `now` against the disk, over all its feeders."""
    known = {entry.feeder: entry for entry in disk.feeders}
    ops: list[LedgerOp] = []
    for entry in now.feeders:
        ops.extend(differences(known.get(entry.feeder, FeederLedger(entry.feeder)), entry))
    return tuple(ops)


def merged(disk: Ledger, now: Ledger) -> Ledger:
    """What the disk holds after the changes: `now`, and feeders that the plan no longer has."""
    present = {entry.feeder for entry in now.feeders}
    return Ledger((*now.feeders, *(old for old in disk.feeders if old.feeder not in present)), max(disk.next_no, now.next_no))


def write(connection: sqlite3.Connection, ops: tuple[LedgerOp, ...], at_us: int) -> None:
    """Writes the changes inside the caller's transaction."""
    for op in ops:
        match op:
            case Opened(debit, substance):
                connection.execute(
                    "INSERT INTO ledger (no, feeder, substance, opened_s, opened_us, last_s, reserved_g, used_g) "
                    "VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
                    (debit.no, debit.feeder, substance, debit.opened_s, at_us, debit.last_s, debit.reserved_g, debit.used_g),
                )
            case Drawn(debit):
                connection.execute(
                    "UPDATE ledger SET last_s = ?, reserved_g = ?, used_g = ? WHERE no = ?",
                    (debit.last_s, debit.reserved_g, debit.used_g, debit.no),
                )
            case Closed(no, feeder, substance, closed_s, fed_g, total_g) if no is None:
                connection.execute(
                    "INSERT INTO ledger (feeder, substance, opened_s, opened_us, last_s, reserved_g, used_g, closed_s, fed_g, "
                    "total_g) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
                    (feeder, substance, closed_s, at_us, closed_s, fed_g, fed_g, closed_s, fed_g, total_g),
                )
            case Closed(no, _, _, closed_s, fed_g, total_g):
                connection.execute(
                    "UPDATE ledger SET closed_s = ?, fed_g = ?, total_g = ? WHERE no = ?", (closed_s, fed_g, total_g, no)
                )


def read(connection: sqlite3.Connection, since_s: float) -> Ledger | None:
    """The ledger as the disk has it, reservations still open; closed entries from `since_s` on. None before the first entry."""
    names = [row[0] for row in connection.execute("SELECT feeder FROM ledger GROUP BY feeder ORDER BY min(id)")]
    if not names:
        return None
    feeders = tuple(_read_feeder(connection, FeederId(name), since_s) for name in names)
    last = connection.execute("SELECT next_no FROM last").fetchone()
    newest = connection.execute("SELECT coalesce(max(no), 0) FROM ledger").fetchone()
    return Ledger(feeders, max(last[0] if last else 1, newest[0] + 1))


def _read_feeder(connection: sqlite3.Connection, feeder: FeederId, since_s: float) -> FeederLedger:
    # Within a feeder only one reservation is open at a time, so ids follow the order of closing.
    older = connection.execute(
        "SELECT total_g FROM ledger WHERE feeder = ? AND closed_s < ? ORDER BY id DESC LIMIT 1", (feeder, since_s)
    ).fetchone()
    rows = connection.execute(
        "SELECT closed_s, total_g FROM ledger WHERE feeder = ? AND closed_s >= ? ORDER BY id", (feeder, since_s)
    ).fetchall()
    held = connection.execute(
        "SELECT no, opened_s, last_s, reserved_g, used_g FROM ledger WHERE feeder = ? AND closed_s IS NULL", (feeder,)
    ).fetchone()
    named = connection.execute(
        "SELECT substance FROM ledger WHERE feeder = ? AND substance IS NOT NULL ORDER BY id DESC LIMIT 1", (feeder,)
    ).fetchone()
    substance = None if named is None else Substance(named[0])
    debit = None if held is None else Debit(held[0], feeder, held[1], held[2], held[3], held[4])
    times, totals = tuple(row[0] for row in rows), tuple(row[1] for row in rows)
    if older is None:
        return FeederLedger(feeder, times, totals, 0.0, debit, substance)
    return FeederLedger(feeder, times, totals, older[0], debit, substance, since_s)


def booked_in_full(ledger: Ledger, clock_s: float) -> Ledger:
    """With every open reservation closed as if all of it was fed: what a crash leaves is counted, never guessed away."""
    done = ledger
    for entry in ledger.feeders:
        if entry.open is not None:
            last_s = max(clock_s, entry.open.last_s) + CRASH_TAIL_S
            done = done.with_feeder(entry.closed(last_s, None))
    return done
