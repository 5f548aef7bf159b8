"""Calendar work on the record: the day's summary with what falls due, and retention. Retention is off the core thread."""

import logging
import threading
from collections.abc import Callable, Mapping
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

from dosectl.core.advice.next_test import ROWS
from dosectl.core.advice.reminders import QUANTITIES, doubtful
from dosectl.core.controller.state import State
from dosectl.core.site import Site
from dosectl.daemon.account import account
from dosectl.model.feeds import Substance
from dosectl.model.reasons import Code, Event, Fact, Facts
from dosectl.model.water_tests import Quantity
from dosectl.store.entry import JournalEntry
from dosectl.store.faults import JournalError
from dosectl.store.journal import Journal
from dosectl.store.read import Record
from dosectl.store.retention import Retention

log = logging.getLogger("dosectl.upkeep")

SUMMARY = Code("day.summary")
WEEK_SUMMARY = Code("week.summary")
TEST_EVERY_DAYS = 7.0  # common practice between weekly tests; the estimate asks sooner when its doubt grows
CONTAINER_DAYS = 7.0
DOUBT = {QUANTITIES[row.field]: (row.field, row.doubt) for row in ROWS}
DAY_S = 86400.0


class Upkeep:
    """Does calendar work by its word. `publish` tells the bus the day's summary."""

    def __init__(
        self,
        path: Path,
        site: Site,
        publish: Callable[[Mapping[str, Any]], object],
        week: Callable[[Facts, datetime], None] = lambda _facts, _now: None,
    ) -> None:
        """week : what else is done with the week's summary"""
        self._path = path
        self._week = week
        self._site = site
        self._publish = publish
        self._thread: threading.Thread | None = None
        self._done_day = ""
        self._done_week = ""

    def do(self, word: str, state: State, journal: Journal) -> None:
        """One word from the calendar. A word that comes twice (DST, restart of the scheduler) does its work once a day."""
        if word == "retention" or journal.needs_room:
            self._prune(state.working.last.utc, journal.needs_room)
        if word == "day_summary":
            self._summarise(state, journal)
        if word == "week_summary":
            self._summarise_week(state, journal)

    def _summarise(self, state: State, journal: Journal) -> None:
        now = state.working.last.utc
        if now.date().isoformat() == self._done_day:
            return
        self._done_day = now.date().isoformat()
        try:
            journal.flush()
            with Record(self._path) as record:
                day = record.day(now - timedelta(days=1), now)
        except JournalError as error:
            log.error("the day's summary could not be made: %s", error)
            return
        volume_m3 = self._site.pool.volume_m3
        summary: dict[str, Any] = {
            "until_utc": now.isoformat(timespec="seconds"),
            "fed_mg_l": {str(fed.feeder): round((fed.fed_g + fed.reserved_g) / volume_m3, 2) for fed in day.fed},
            "signals": {item.signal: {"mean": item.mean, "low": item.low, "high": item.high} for item in day.extremes},
            "alarms": [str(alarm.code) for alarm in day.raised],
            "due": due(self._site, state),
        }
        facts: dict[str, Fact] = {f"fed_{name}_mg_l": value for name, value in summary["fed_mg_l"].items()}
        facts |= {"alarms": len(day.raised), "due": "; ".join(summary["due"])}
        event = Event(SUMMARY, state.working.last, tuple(facts.items()))
        clock_s = state.durable.clocks.clock_s
        try:
            journal.commit(JournalEntry(step_no=0, at_utc=now, clock_s=clock_s, events=(event,)), durable_now=False)
        except JournalError as error:
            log.error("the day's summary could not be written: %s", error)
        log.info("the day's summary: %s", ", ".join(f"{name} {value}" for name, value in facts.items()))
        self._publish(summary)

    def _summarise_week(self, state: State, journal: Journal) -> None:
        """Once a week: a page of it goes into the record, over the bus and to whom it is sent."""
        now = state.working.last.utc
        if now.date().isoformat() == self._done_week:
            return
        self._done_week = now.date().isoformat()
        clock_s = state.durable.clocks.clock_s
        try:
            journal.flush()
            with Record(self._path) as record:
                facts = account(record, self._site, state.durable, now - timedelta(days=7), now)
            event = Event(WEEK_SUMMARY, state.working.last, facts)
            journal.commit(JournalEntry(step_no=0, at_utc=now, clock_s=clock_s, events=(event,)), durable_now=False)
        except JournalError as error:
            log.error("the week's summary could not be made: %s", error)
            return
        self._publish({"until_utc": now.isoformat(timespec="seconds"), "days": 7, "week": dict(facts)})
        self._week(facts, now)

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


def due(site: Site, state: State) -> list[str]:
    """What a person should do soon: tests that are old, containers that run out. Short texts, the day's reminders."""
    clock_s, water = state.durable.clocks.clock_s, state.working.view
    found: list[str] = []
    for quantity in (Quantity.FREE_CHLORINE, Quantity.PH):
        taken = [test.taken_s for test in state.durable.tests if test.quantity is quantity and not test.withdrawn]
        days = (clock_s - max(taken)) / DAY_S if taken else None
        if days is None or days >= TEST_EVERY_DAYS:
            found.append(f"test {quantity.value}: {'never tested' if days is None else f'last tested {days:.0f} days ago'}")
        elif water is not None and doubtful(water, *DOUBT[quantity]):
            found.append(f"test {quantity.value}: what is believed of it is too doubtful")
    use = dict(state.durable.standing.daily_use_mg_l)
    for feeder, at_s, volume_ml in state.durable.standing.refills:
        item = next((entry for entry in site.feeders if entry.id == feeder), None)
        if item is None:
            continue
        left_ml = volume_ml - item.ml_per_g * state.durable.ledger.of(feeder).window_g(clock_s, clock_s - at_s)
        days_used = use.get(Substance(item.substance), ())
        a_day_ml = sum(days_used) / len(days_used) * site.pool.volume_m3 * item.ml_per_g if days_used else 0.0
        if a_day_ml > 0.0 and left_ml / a_day_ml < CONTAINER_DAYS:
            found.append(f"refill {feeder}: about {max(left_ml, 0.0) / a_day_ml:.0f} days left")
    return found
