"""Persons, calls and a clock for the tests of calling."""

from collections.abc import Callable
from datetime import UTC, datetime, time, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

from dosectl.core.alarms.view import AlarmChange, Priority
from dosectl.model.calls import Call
from dosectl.model.instant import Instant
from dosectl.model.reasons import Code
from dosectl.settings.notify import Person, RouteAddress
from dosectl.store.entry import JournalEntry
from dosectl.store.journal import Journal

ZONE = ZoneInfo("Europe/Vienna")
NOON = datetime(2026, 6, 1, 10, 0, tzinfo=UTC)
CODE = Code("feed.no_response")


def person(name: str, order: float, *urls: str, knows_pool: bool = True, language: str = "en") -> Person:
    routes = tuple(RouteAddress(f"way{number}", url) for number, url in enumerate(urls))
    return Person(name, name.title(), language, order, knows_pool, routes, (), time(22, 0), time(7, 0))


def call(priority: int = 3, at: datetime = NOON, occurrence: int = 1, code: Code = CODE, change: str = "raised") -> Call:
    key = f"{code}:{occurrence}" if change == "raised" else f"{code}:{occurrence}:{change}"
    return Call(key, code, occurrence, priority, change, Instant(0.0, at, "boot"))


def alarm(change: str, at: datetime, occurrence: int = 1, code: Code = CODE, by: str = "") -> AlarmChange:
    present = change != "cleared"
    return AlarmChange(
        code, change, occurrence, Priority.HIGH, present, change == "answered", False, Instant(0.0, at, "boot"), by
    )


class Pool:
    """A journal whose steps are made by hand."""

    def __init__(self, folder: Path) -> None:
        self.path = folder / "pool.journal"
        self.journal = Journal.open(self.path)
        self.step_no = 0

    def step(self, at: datetime, *, calls: tuple[Call, ...] = (), alarms: tuple[AlarmChange, ...] = ()) -> None:
        self.step_no += 1
        entry = JournalEntry(step_no=self.step_no, at_utc=at, clock_s=float(self.step_no), calls=calls, alarms=alarms)
        self.journal.commit(entry, durable_now=True)


class Hands:
    """A clock moved by hand, wall and monotonic together."""

    def __init__(self, at: datetime = NOON) -> None:
        self.at = at
        self._start = at

    def now(self) -> datetime:
        return self.at

    def now_s(self) -> float:
        return (self.at - self._start).total_seconds()

    def pass_by(self, **span: float) -> None:
        self.at += timedelta(**span)


def until(met: Callable[[], bool], do: Callable[[], object] = lambda: None, tries: int = 2000) -> None:
    """Waits for another thread, in small real steps, however slow the machine is. Fails when it never comes."""
    import time as clock

    for _ in range(tries):
        do()
        if met():
            return
        clock.sleep(0.005)
    raise AssertionError("it never came")
