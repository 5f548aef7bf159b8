"""Opening a journal file: made whole or not at all, looked at before use, refused where it can't be trusted."""

import os
import sqlite3
from pathlib import Path

from dosectl.store import schema
from dosectl.store.connect import reader, writer
from dosectl.store.faults import JournalError, JournalFailed, damaged, translated


def make_empty(path: Path) -> None:
    """Makes an empty journal under another name and renames it: a crash half-way leaves no torn file."""
    fresh = path.with_name(path.name + ".new")
    try:
        for left in (fresh, fresh.with_name(fresh.name + "-wal"), fresh.with_name(fresh.name + "-shm")):
            left.unlink(missing_ok=True)
        connection = writer(fresh, full=True)
        try:
            schema.migrate(connection, fresh)
        finally:
            connection.close()
        os.replace(fresh, path)
        folder = os.open(path.parent, os.O_RDONLY | os.O_CLOEXEC)
        try:
            os.fsync(folder)
        finally:
            os.close(folder)
    except sqlite3.Error as error:
        raise translated(error, path, "making a new journal") from error
    except OSError as error:
        raise JournalFailed(f"{path}: a new journal can't be made ({error.strerror}). Nothing is fed without one.") from error


def checked(path: Path, readonly: bool) -> sqlite3.Connection:
    """A connection to a journal that was looked at: ours, not newer, not damaged; brought to the newest schema if it may write.

    Raises JournalFailed, JournalDamaged or JournalNewer.
    """
    if not path.exists():
        raise JournalFailed(f"{path}: there is no journal here. Check the path; the daemon makes one at its first start.")
    if path.stat().st_size == 0:
        # SQLite takes an empty file for a new database: the ledger would silently start at nothing.
        raise damaged(path, "the file is empty")
    connection: sqlite3.Connection | None = None
    try:
        # Looked at by a connection that can't write: opening for writing may already touch the header of a damaged file.
        connection = reader(path)
        schema.check(connection, path)
        found = connection.execute("PRAGMA quick_check(1)").fetchone()[0]
        if found != "ok":
            raise damaged(path, str(found).replace("\n", " ")[:200])
        if not readonly:
            connection.close()
            connection = writer(path, full=True)
            schema.migrate(connection, path)
    except sqlite3.OperationalError as error:
        _close(connection)
        raise translated(error, path, "opening the journal") from error
    except sqlite3.DatabaseError as error:
        _close(connection)
        raise damaged(path, str(error)) from error
    except JournalError:
        _close(connection)
        raise
    return connection


def _close(connection: sqlite3.Connection | None) -> None:
    if connection is not None:
        connection.close()
