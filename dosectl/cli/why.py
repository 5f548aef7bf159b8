"""`dosectl why`: what was decided for each feeder and why, now or at a time, out of the record."""

import argparse
import sys
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

from dosectl.cli.account import kept
from dosectl.cli.spans import hours_before
from dosectl.cli.verb import DONE, REFUSED, USAGE, Verb, add_config
from dosectl.cli.where import NoInstallation, installation
from dosectl.store.faults import JournalError
from dosectl.store.read import Record
from dosectl.texts.figures import moment_text
from dosectl.texts.render import Texts

FIRST = datetime(1970, 1, 1, tzinfo=UTC)
FAR = datetime(2100, 1, 1, tzinfo=UTC)  # the newest of whatever clock the record was kept by
LATER = timedelta(minutes=10)  # than the newest step: a running daemon keeps one more often


def _arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "time", nargs="?", metavar="TIME", help="such as 2026-07-14T14:00 in the pool's time; left out: the newest"
    )
    parser.add_argument("--before-h", type=float, default=1.0, metavar="H", help="also show what changed in the hours before (1)")
    add_config(parser)


def _run(arguments: argparse.Namespace) -> int:
    try:
        loaded = installation(arguments)
        zone = ZoneInfo(loaded.site.pool.time_zone)
        at = FAR if arguments.time is None else _moment(arguments.time, zone)
        hours_before(arguments.before_h)
        _, newest = kept(loaded)
        with Record(loaded.journal_path) as record:
            _print(record, Texts(loaded.site.pool.time_zone), at, newest, arguments)
    except NoInstallation as error:
        print(error, file=sys.stderr)
        return REFUSED
    except ValueError as error:
        print(f"dosectl why: {error}", file=sys.stderr)
        return USAGE
    except JournalError as error:
        print(error, file=sys.stderr)
        return REFUSED
    return DONE


def _moment(text: str, zone: ZoneInfo) -> datetime:
    try:
        moment = datetime.fromisoformat(text)
        moment = (moment if moment.tzinfo else moment.replace(tzinfo=zone)).astimezone(UTC)
    except (ValueError, OverflowError):
        moment = FIRST
    if not FIRST < moment < FAR:
        raise ValueError(f"TIME {text!r}: accepted is such as 2026-07-14T14:00 in the pool's time")
    return moment


def _print(record: Record, texts: Texts, at: datetime, newest: datetime, arguments: argparse.Namespace) -> None:
    decided = record.why(at)
    if not decided:
        print("nothing was decided up to then")
        return
    if at != FAR and at - newest > LATER:
        print(f"the record ends at {moment_text(newest, texts.zone)}; that is the answer of then:")
    for decision in decided:
        print(f"{decision.feeder}: {decision.outcome.value} since {moment_text(decision.since, texts.zone)}")
        for reason in decision.reasons:
            print(f"    {texts.reason(reason)}")
    end = max(decision.as_of for decision in decided) + timedelta(seconds=1) if at == FAR else at
    print(f"\nwhat changed in the {arguments.before_h:g} h before {moment_text(end, texts.zone)}:")
    for event in record.events(end - timedelta(hours=arguments.before_h), end):
        facts = ", ".join(f"{name} {value}" for name, value in event.facts)
        print(f"  {moment_text(event.at, texts.zone)}  {event.code}  {facts}")


VERB = Verb("why", "Show what was decided and why, now or at a time.", "dosectl why 2026-07-14T14:00", _arguments, _run)
