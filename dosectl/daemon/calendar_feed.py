"""The reminders as a calendar file (RFC 5545): made whole, then moved into place, so that a reader never sees half of one.

No place, no person, no absence stands in it: whoever reads the feed learns only what the pool needs.
"""

import errno
import os
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

from icalendar import Alarm, Calendar, Event

from dosectl.core.advice.reminders import Reminder, ReminderView
from dosectl.core.controller.state import Durable
from dosectl.core.estimate.view import water
from dosectl.settings.load import Loaded
from dosectl.texts.lines import reminder_text
from dosectl.texts.render import Texts

AT = timedelta(hours=9)
"""When a phone speaks up on the day."""


def view_of(loaded: Loaded, durable: Durable, now: datetime) -> ReminderView:
    """What the reminders are made of, out of the durable state."""
    return ReminderView(
        site=loaded.site,
        now=now.astimezone(Texts(loaded.site.pool.time_zone).zone),
        clock_s=durable.clocks.clock_s,
        standing=durable.standing,
        tests=durable.tests,
        ledger=durable.ledger,
        water=water(loaded.site, durable.estimate),
        limits=loaded.params["alarms"],
    )


def write(path: Path, body: bytes) -> None:
    """Raises OSError where it can't be written; what was there before then stays."""
    if path.is_dir():
        raise IsADirectoryError(errno.EISDIR, os.strerror(errno.EISDIR), str(path))
    part = path.with_name(f".{path.name}.part")
    try:
        part.write_bytes(body)
        os.replace(part, path)
    finally:
        part.unlink(missing_ok=True)


def feed(loaded: Loaded, items: tuple[Reminder, ...], now: datetime, language: str) -> bytes:
    """The file. No place, no person, no absence: whoever reads the feed learns only what the pool needs."""
    calendar = Calendar()
    calendar.add("prodid", "-//dosectl//reminders//EN")
    calendar.add("version", "2.0")
    calendar.add("calscale", "GREGORIAN")
    calendar.add("method", "PUBLISH")
    calendar.add("name", loaded.site.pool.name)
    calendar.add("refresh-interval", timedelta(hours=12), parameters={"VALUE": "DURATION"})
    for item in items:
        calendar.add_component(_event(item, loaded.site.ident, now, reminder_text(item.kind.words, item.facts, language)))
    return bytes(calendar.to_ical())


def _event(item: Reminder, ident: str, now: datetime, words: str) -> Event:
    event = Event()
    event.add("uid", f"{item.key}@{ident}.dosectl.invalid")
    event.add("dtstamp", now.astimezone(UTC).replace(microsecond=0))
    event.add("dtstart", item.on)
    event.add("dtend", _day_after(item.on))
    event.add("summary", words)
    event.add("transp", "TRANSPARENT")
    if item.every:
        event.add("rrule", {"freq": {"week": "WEEKLY", "year": "YEARLY"}[item.every]})
    alarm = Alarm()
    alarm.add("action", "DISPLAY")
    alarm.add("description", words)
    alarm.add("trigger", AT)
    event.add_component(alarm)
    return event


def _day_after(day: date) -> date:
    return day + timedelta(days=1)
