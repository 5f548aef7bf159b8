"""What can go wrong with the record, each with what to do about it. Any of these at a commit means: no dose."""

import sqlite3
from pathlib import Path


class JournalError(Exception):
    """The record can't be used as asked. `code` is stable; the text says where, what, why it matters and what to do."""

    code = "journal.failed"


class JournalFailed(JournalError):
    """A read or write failed for a reason other than a full disk: read-only place, missing folder, I/O error."""


class NewStartNeeded(JournalFailed):
    """What the process holds does not follow from the disk, or can't be stored: only a start from the disk mends it."""


class JournalFull(JournalError):
    """No room for the record. Nothing may be fed; the next commit tries again by itself."""

    code = "journal.full"


class JournalDamaged(JournalError):
    """The file fails its check or is no journal of ours."""

    code = "journal.damaged"


class JournalNewer(JournalError):
    """The file was written by a newer version of the program."""

    code = "journal.newer"


class JournalInUse(JournalError):
    """Another process holds this pool's journal."""

    code = "journal.in_use"


_FULL = {"SQLITE_FULL", "SQLITE_IOERR_SHMSIZE"}  # the second: no room for the index of the write-ahead log, at an opening
_DAMAGE = ("SQLITE_CORRUPT", "SQLITE_NOTADB")


def damaged(path: Path, found: str) -> JournalDamaged:
    """The error for a file that can't be trusted, with the way back."""
    return JournalDamaged(
        f"{path}: the journal is damaged ({found}). It holds the ledger of what was fed, so nothing is fed until it can be read. "
        f"Stop the program and keep the file: rename it to {path.name}.damaged, and {path.name}-wal and -shm likewise. "
        f"Copy what can be read into a new journal with 'dosectl salvage', or put back a copy, or start without one: "
        f"the daemon then makes an empty journal, whose limits know nothing of what was fed before; wait one day before feeding."
    )


def translated(error: sqlite3.Error, path: Path, doing: str) -> JournalError:
    """One of our errors for one of SQLite's."""
    name = str(getattr(error, "sqlite_errorname", "") or type(error).__name__)
    if name in _FULL:
        return JournalFull(
            f"{path}: no room while {doing} ({name}). Nothing is fed while the record can't be written. "
            f"Free space on that disk; writing goes on by itself as soon as there is room."
        )
    if name.startswith(_DAMAGE):
        return damaged(path, f"{name}: {error}")
    return JournalFailed(
        f"{path}: {doing} failed ({name}: {error}). Nothing is fed while the record can't be written. "
        f"Check that the disk is sound and writable by this user; writing is tried again at the next step."
    )
