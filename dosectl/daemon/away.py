"""What who is away is sent: each morning a line, and at the end the account. Nothing here can start or stop a feed.

The account is made in a thread of its own, as it reads weeks of the record. Its key is its absence's, so that it goes out once,
also where the process ended between the two.
"""

import logging
import threading
from collections.abc import Callable
from datetime import datetime
from pathlib import Path

from dosectl.core.controller.state import Durable, State
from dosectl.core.site import Site
from dosectl.daemon.account import account
from dosectl.daemon.morning import morning
from dosectl.model.absences import Absence, lasting
from dosectl.model.reasons import Code, Facts
from dosectl.store.faults import JournalError
from dosectl.store.read import Record
from dosectl.texts.lines import ACCOUNT, MORNING, WEEK

Say = Callable[[str, datetime, Code, Facts], None]
"""Puts a message out: key, when, code, facts. Raises the journal's errors."""

log = logging.getLogger("dosectl.away")


class Away:
    """`say` is None where nobody is to be told anything."""

    def __init__(self, path: Path, site: Site, say: Say | None) -> None:
        self._path = path
        self._site = site
        self._say = say
        self._told: Absence | None = None
        self._thread: threading.Thread | None = None

    def morning(self, state: State, target_mg_l: float) -> None:
        """The day's line, where somebody is away. target_mg_l : today's target"""
        absence = lasting(state.durable.absences)
        if self._say is None or absence is None:
            return
        now = state.working.last.utc
        try:
            self._say(f"{MORNING}:{now.date().isoformat()}", now, MORNING, morning(self._site, state, target_mg_l))
        except JournalError as error:
            log.error("the day's line could not be put out: %s", error)

    def week(self, facts: Facts, now: datetime) -> None:
        """The week's summary, to the first person."""
        if self._say is None:
            return
        try:
            self._say(f"{WEEK}:{now.date().isoformat()}", now, WEEK, facts)
        except JournalError as error:
            log.error("the week's summary could not be put out: %s", error)

    def after_step(self, durable: Durable, now: datetime) -> None:
        """Tells of an absence that has ended, once."""
        last = durable.absences[-1] if durable.absences else None
        if self._say is None or last is None or last.ended is None or last == self._told:
            return
        if self._thread is not None and self._thread.is_alive():
            return
        self._thread = threading.Thread(target=self._account, args=(durable, last, now), name="account", daemon=True)
        self._thread.start()

    def _account(self, durable: Durable, absence: Absence, now: datetime) -> None:
        assert self._say is not None
        assert absence.ended is not None
        try:
            with Record(self._path) as record:
                facts = account(record, self._site, durable, absence.begun, absence.ended)
            self._say(f"{ACCOUNT}:{absence.begun.isoformat(timespec='seconds')}", now, ACCOUNT, facts)
        except JournalError as error:
            log.error("the account of the absence waits: %s", error)
            return
        except Exception:
            # Tried again it would fail again, each time with the whole record read: once is told, and feeding goes on.
            log.exception("the account of the absence could not be made; `dosectl account` shows why")
        self._told = absence

    def stop(self) -> None:
        """Waits a little for an account under way; what was not put out is at the next start."""
        if self._thread is not None:
            self._thread.join(timeout=2.0)
