"""The schema's one owner: applies the numbered migrations, refuses what it does not know."""

import sqlite3
from importlib.resources import files
from pathlib import Path

from dosectl.store.faults import JournalNewer, damaged

APPLICATION_ID = 0x646F7365  # "dose": another program's database is never taken for a journal


def migrations() -> tuple[tuple[int, str], ...]:
    """(number, SQL) of all migrations, in order."""
    found = []
    for item in files("dosectl.store.migrations").iterdir():
        if item.name.endswith(".sql"):
            found.append((int(item.name[:4]), item.read_text(encoding="utf-8")))
    return tuple(sorted(found))


def newest() -> int:
    """The schema number this program writes."""
    return migrations()[-1][0]


def check(connection: sqlite3.Connection, path: Path) -> int:
    """The file's schema number, 0 for an empty file. Raises JournalNewer or JournalDamaged for a file that isn't ours to use."""
    number = int(connection.execute("PRAGMA user_version").fetchone()[0])
    owner = int(connection.execute("PRAGMA application_id").fetchone()[0])
    tables = int(connection.execute("SELECT count(*) FROM sqlite_master").fetchone()[0])
    if tables and owner != APPLICATION_ID:
        raise damaged(path, "it is a database of another program")
    if number > newest():
        raise JournalNewer(
            f"{path}: the journal has schema {number}, this program knows schemas up to {newest()}. A newer version wrote it, "
            f"and an older one could misread what was fed. Install the newer version again; or move the file aside to start with "
            f"an empty journal, and wait one day before feeding."
        )
    return number


def migrate(connection: sqlite3.Connection, path: Path) -> None:
    """Brings the file to the newest schema, each step in a transaction of its own."""
    number = check(connection, path)
    for target, sql in migrations():
        if target <= number:
            continue
        connection.executescript(
            f"BEGIN IMMEDIATE;\n{sql}\nPRAGMA application_id = {APPLICATION_ID};\nPRAGMA user_version = {target};\nCOMMIT;"
        )
