"""Calendar work on the record: the day's summary and retention. Off the core thread where it may take long."""

import logging
import threading
from datetime import datetime
from pathlib import Path

from dosectl.core.controller.state import State
from dosectl.store.faults import JournalError
from dosectl.store.journal import Journal
from dosectl.store.retention import Retention

log = logging.getLogger("dosectl.upkeep")


class Upkeep:
    """Does calendar work by its word. Retention has a thread and a connection of its own: dosing never waits for it."""

    def __init__(self, path: Path, time_zone: str) -> None:
        self._path = path
        self._time_zone = time_zone
        self._thread: threading.Thread | None = None
        self._done_day = ""

    def do(self, word: str, state: State, journal: Journal) -> None:
        """One word from the calendar. Idempotent by day: a word that comes twice does its work once."""
        if word == "retention" or journal.needs_room:
            self._prune(state.working.last.utc, journal.needs_room)
        if word == "day_summary":
            self._summary(state)

    def _summary(self, state: State) -> None:
        day = state.working.last.utc.date().isoformat()
        if day == self._done_day:
            return
        self._done_day = day
        log.info("day %s ends with %d s of flow in all", day, int(state.durable.clocks.flow_clock_s))

    def _prune(self, now: datetime, urgent: bool) -> None:
        if self._thread is not None and self._thread.is_alive():
            return
        self._thread = threading.Thread(target=self._run, args=(now, urgent), name="retention", daemon=True)
        self._thread.start()

    def _run(self, now: datetime, urgent: bool) -> None:
        try:
            Retention(self._path).run(now, urgent=urgent)
        except JournalError as error:
            log.error("retention: %s", error)

    def stop(self) -> None:
        """Waits a little for a running piece."""
        if self._thread is not None:
            self._thread.join(timeout=2.0)
