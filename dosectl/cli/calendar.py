"""`dosectl calendar`: reminders as a calendar file (RFC 5545) that any calendar can subscribe to. Written whole, then moved."""

import argparse
import os
import sys
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

from icalendar import Alarm, Calendar, Event

from dosectl.cli.account import kept
from dosectl.cli.verb import DONE, REFUSED, Verb, add_config
from dosectl.cli.where import NoInstallation, installation
from dosectl.core.advice.reminders import Reminder, ReminderView, reminders
from dosectl.core.controller.state import Durable
from dosectl.core.estimate.view import water
from dosectl.settings.load import Loaded
from dosectl.store.faults import JournalError
from dosectl.texts.languages import TABLES
from dosectl.texts.lines import reminder_text
from dosectl.texts.render import Texts

AT = timedelta(hours=9)
"""When a phone speaks up on the day."""


def _arguments(parser: argparse.ArgumentParser) -> None:
    add_config(parser)
    parser.add_argument("--out", metavar="FILE", type=Path, help="write it there, for a calendar to read; left out: print it")
    parser.add_argument("--language", choices=sorted(TABLES), default="en", help="of the reminders (default en)")


def _run(arguments: argparse.Namespace) -> int:
    try:
        loaded = installation(arguments)
        durable, now = kept(loaded)
        body = feed(loaded, reminders(_view(loaded, durable, now)), now, arguments.language)
        if arguments.out is None:
            sys.stdout.buffer.write(body)
            return DONE
        part = arguments.out.with_name(f".{arguments.out.name}.part")
        part.write_bytes(body)
        os.replace(part, arguments.out)
    except (NoInstallation, JournalError, ValueError, OSError) as error:
        print(error, file=sys.stderr)
        return REFUSED
    return DONE


def _view(loaded: Loaded, durable: Durable, now: datetime) -> ReminderView:
    return ReminderView(
        site=loaded.site,
        now=now.astimezone(Texts(loaded.site.pool.time_zone).zone),
        clock_s=durable.clocks.clock_s,
        standing=durable.standing,
        tests=durable.tests,
        ledger=durable.ledger,
        water=water(loaded.site, durable.estimate),
        proof_days=loaded.params["alarms"].proof_due_days,
    )


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


VERB = Verb(
    "calendar",
    "Write the reminders as a calendar file: tests, calibrations, refills, proofs, season.",
    "dosectl calendar --out /srv/pool.ics",
    _arguments,
    _run,
)
