"""Copies what can still be read of a damaged journal into a new one. The damaged file is only read."""

import sqlite3
from pathlib import Path

from dosectl.store.connect import writer
from dosectl.store.faults import JournalFailed, translated
from dosectl.store.opening import make_empty


def salvage(damaged: Path, fresh: Path) -> dict[str, tuple[int, bool]]:
    """Makes the journal `fresh` and fills it; for each table the rows copied and whether all of it could be read.

    The ledger may lack its newest entries: wait one day before feeding, so that no limit counts on what is missing.
    Raises JournalFailed where `fresh` exists or `damaged` can't be opened at all.
    """
    if fresh.exists():
        raise JournalFailed(f"{fresh}: exists already; give the name of a file that does not.")
    if not damaged.exists():
        raise JournalFailed(f"{damaged}: there is no such file.")
    make_empty(fresh)
    source = sqlite3.connect(f"file:{damaged}?mode=ro", uri=True, isolation_level=None)
    target = writer(fresh, full=True)
    done: dict[str, tuple[int, bool]] = {}
    try:
        names = [
            row[0] for row in target.execute("SELECT name FROM sqlite_master WHERE type = 'table' AND name NOT LIKE 'sqlite_%'")
        ]
        target.execute("PRAGMA foreign_keys = OFF")
        for name in names:
            target.execute("BEGIN IMMEDIATE")
            done[name] = _copied(source, target, name)
            target.execute("COMMIT")
    except sqlite3.Error as error:
        raise translated(error, fresh, "salvaging") from error
    finally:
        source.close()
        target.close()
    return done


def _copied(source: sqlite3.Connection, target: sqlite3.Connection, table: str) -> tuple[int, bool]:
    """Rows from the front until damage, then from the back: two ends of a table hold what lies on sound pages."""
    columns = [row[1] for row in target.execute(f"PRAGMA table_info({table})")]
    places = ", ".join("?" * len(columns))
    order = columns[0]
    count = 0
    whole = True
    for direction in ("ASC", "DESC"):
        try:
            for row in source.execute(f"SELECT {', '.join(columns)} FROM {table} ORDER BY {order} {direction}"):
                count += target.execute(f"INSERT OR IGNORE INTO {table} VALUES ({places})", row).rowcount
            break
        except sqlite3.DatabaseError:
            whole = False
    return count, whole
