"""How every connection to the journal is opened, and how its errors become ours."""

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from urllib.parse import quote

from dosectl.store.faults import NewStartNeeded, translated

WAIT_MS = 5000  # others hold the write lock for one small chunk at most; a wait this long means something is wrong
PAGE_BYTES = 4096


def writer(path: Path, *, full: bool) -> sqlite3.Connection:
    """A writing connection of one thread.

    full : every commit reaches the disk before it returns (ledger, trips, alarms); else commits survive a crash of the process
        but the last ones may be lost with the power, never the file's consistency.
    """
    connection = sqlite3.connect(path, isolation_level=None, timeout=WAIT_MS / 1000, check_same_thread=False)
    try:
        connection.execute(f"PRAGMA page_size = {PAGE_BYTES}")
        # Takes effect only in an empty file; lets retention give room back to the disk.
        connection.execute("PRAGMA auto_vacuum = INCREMENTAL")
        connection.execute("PRAGMA journal_mode = WAL")
        connection.execute(f"PRAGMA synchronous = {'FULL' if full else 'NORMAL'}")
        connection.execute("PRAGMA journal_size_limit = 8388608")
        connection.execute("PRAGMA foreign_keys = ON")
    except sqlite3.Error:
        connection.close()
        raise
    return connection


def reader(path: Path) -> sqlite3.Connection:
    """A connection that can't write."""
    return sqlite3.connect(f"file:{quote(str(path))}?mode=ro", uri=True, isolation_level=None, timeout=WAIT_MS / 1000)


@contextmanager
def transaction(connection: sqlite3.Connection, path: Path, doing: str) -> Iterator[None]:
    """All or nothing. Raises JournalFull, JournalFailed or JournalDamaged in place of SQLite's own errors."""
    try:
        connection.execute("BEGIN IMMEDIATE")
        yield
        connection.execute("COMMIT")
    except sqlite3.Error as error:
        _undo(connection)
        raise translated(error, path, doing) from error
    except (UnicodeError, OverflowError) as error:
        _undo(connection)
        raise NewStartNeeded(
            f"{path}: {doing} failed: a value can't be stored ({error}). Nothing is fed until a restart."
        ) from error
    except BaseException:
        _undo(connection)
        raise


def _undo(connection: sqlite3.Connection) -> None:
    # A full disk has already rolled back; a second ROLLBACK would hide the first error.
    if connection.in_transaction:
        try:
            connection.execute("ROLLBACK")
        except sqlite3.Error:
            return
