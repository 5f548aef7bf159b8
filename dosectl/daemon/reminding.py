"""Writes the reminders' calendar file each morning and at the start, off the core thread. An error is told and stops nothing."""

import logging
import threading
from datetime import datetime

from dosectl.core.advice.reminders import reminders
from dosectl.core.controller.state import Durable
from dosectl.model.reasons import Code
from dosectl.settings.load import Loaded

FAULT = Code("calendar.file")

log = logging.getLogger("dosectl.reminding")


class Reminding:
    """Does nothing where the settings name no file."""

    def __init__(self, loaded: Loaded) -> None:
        self._loaded = loaded
        self._thread: threading.Thread | None = None
        self._failed = False

    def faults(self) -> tuple[Code, ...]:
        """Stands from a failed writing to the next one that succeeds."""
        return (FAULT,) if self._failed else ()

    def renew(self, durable: Durable, now: datetime) -> None:
        """Writes the file from this state; where the last writing still hangs, on a dead network disk, this one is left out."""
        if self._loaded.calendar is None:
            return
        if self._thread is not None and self._thread.is_alive():
            self._failed = True
            return
        self._thread = threading.Thread(target=self._write, args=(durable, now), name="reminding", daemon=True)
        self._thread.start()

    def _write(self, durable: Durable, now: datetime) -> None:
        from dosectl.daemon.calendar_feed import feed, view_of, write  # its library is loaded only where a file is named

        calendar = self._loaded.calendar
        assert calendar is not None
        try:
            items = reminders(view_of(self._loaded, durable, now))
            write(calendar.path, feed(self._loaded, items, now, calendar.language))
        except Exception:  # a calendar is no reason to stop a pool's controller, whatever is wrong with it
            self._failed = True
            log.exception("the reminders' calendar could not be written")
        else:
            self._failed = False

    def stop(self) -> None:
        """Waits a little for a writing under way."""
        if self._thread is not None:
            self._thread.join(timeout=2.0)
