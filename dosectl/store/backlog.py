"""Entries that wait for their commit, and what is given up first when they can't be written for long."""

from dataclasses import replace

from dosectl.store.entry import JournalEntry

ENTRIES_MAX = 600
"""About ten minutes of steps. While commits fail nothing is fed, so what is given up is the record of waiting."""
ROWS_MAX = 5000


class Backlog:
    """Entries in order. A failed commit leaves them here; the next one carries them."""

    def __init__(self) -> None:
        self._entries: list[JournalEntry] = []
        self.lost: dict[str, int] = {}

    def __len__(self) -> int:
        return len(self._entries)

    @property
    def entries(self) -> tuple[JournalEntry, ...]:
        """What waits, oldest first."""
        return tuple(self._entries)

    def add(self, entry: JournalEntry) -> None:
        """One more; its snapshot and readings are kept elsewhere."""
        self._entries.append(entry)

    def clear(self) -> None:
        """All of it is on the disk."""
        self._entries.clear()
        self.lost.clear()

    def shed(self) -> None:
        """Folds the older half into one entry where too many wait.

        Durable parts (the newest of each), replies, tests, alarms, commands and events stay; telemetry and repeated decisions go,
        counted.
        """
        if len(self._entries) <= ENTRIES_MAX:
            return
        older, self._entries = self._entries[: ENTRIES_MAX // 2], self._entries[ENTRIES_MAX // 2 :]
        self.count("telemetry", sum(len(entry.telemetry) for entry in older))
        self.count("decisions", sum(len(entry.decisions) for entry in older[:-1]))
        events = tuple(item for entry in older for item in entry.events)
        self.count("events", max(len(events) - ROWS_MAX, 0))
        last = older[-1]
        folded = replace(
            last,
            snapshot=None,
            parts=tuple({name: body for entry in older for name, body in entry.parts}.items()),
            ledger=next((entry.ledger for entry in reversed(older) if entry.ledger is not None), None),
            events=events[-ROWS_MAX:],
            commands=tuple(item for entry in older for item in entry.commands)[-ROWS_MAX:],
            alarms=tuple(item for entry in older for item in entry.alarms)[-ROWS_MAX:],
            replies=tuple(item for entry in older for item in entry.replies)[-ROWS_MAX:],
            calls=tuple(item for entry in older for item in entry.calls),
            tests=tuple(item for entry in older for item in entry.tests),
            telemetry=(),
            keep=next((entry.keep for entry in older if entry.keep), ""),
            plan=next((entry.plan for entry in reversed(older) if entry.plan is not None), None),
        )
        self._entries.insert(0, folded)

    def count(self, what: str, rows: int) -> None:
        """Adds to what was given up."""
        if rows:
            self.lost[what] = self.lost.get(what, 0) + rows
