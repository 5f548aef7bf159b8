"""`dosectl account`: one page of what happened while you were away, or over the last days."""

import argparse
import json
import sys
from datetime import UTC, datetime, timedelta

from dosectl.cli.spans import WrongSpan, days_back
from dosectl.cli.verb import DONE, REFUSED, USAGE, Verb, add_config
from dosectl.cli.where import NoInstallation, installation
from dosectl.core.controller.state import Durable
from dosectl.daemon.account import account
from dosectl.daemon.parts import durable_from
from dosectl.daemon.wiring import plan_of
from dosectl.model.reasons import Facts
from dosectl.settings.load import Loaded
from dosectl.store.faults import JournalError
from dosectl.store.journal import Journal
from dosectl.store.read import Record
from dosectl.texts.figures import moment_text
from dosectl.texts.languages import TABLES
from dosectl.texts.lines import page
from dosectl.texts.render import Texts


def _arguments(parser: argparse.ArgumentParser) -> None:
    add_config(parser)
    parser.add_argument("--days", type=float, metavar="N", help="the last N days; left out: the newest absence")
    parser.add_argument("--language", choices=sorted(TABLES), default="en", help="of the page (default en)")
    parser.add_argument("--json", action="store_true", help="print the facts as JSON")


def _run(arguments: argparse.Namespace) -> int:
    try:
        loaded = installation(arguments)
        durable, now = kept(loaded)
        start, end = _span(durable, now, arguments.days)
        with Record(loaded.journal_path) as record:
            facts = account(record, loaded.site, durable, start, end)
    except WrongSpan as error:
        print(error, file=sys.stderr)
        return USAGE
    except (NoInstallation, JournalError, ValueError) as error:
        print(error, file=sys.stderr)
        return REFUSED
    if arguments.json:
        print(json.dumps({"from_utc": start.isoformat(), "to_utc": end.isoformat(), **dict(facts)}))
        return DONE
    for line in lines(loaded, facts, start, end, arguments.language):
        print(line)
    return DONE


def lines(loaded: Loaded, facts: Facts, start: datetime, end: datetime, language: str) -> tuple[str, ...]:
    """The page with its time in the first line."""
    zone = Texts(loaded.site.pool.time_zone).zone
    head = f"{loaded.site.pool.name}: {moment_text(start, zone)} to {moment_text(end, zone)}"
    return (head, *page(dict(facts), language, zone))


def kept(loaded: Loaded) -> tuple[Durable, datetime]:
    """The durable state on record, and its moment. Raises the journal's errors, and ValueError where there is none yet."""
    journal = Journal.open(loaded.journal_path, readonly=True)
    try:
        stored = journal.load()
    finally:
        journal.close()
    durable = durable_from(plan_of(loaded), stored.parts, stored.ledger)
    if durable is None:
        raise ValueError("the journal is empty: run the daemon first")
    return durable, stored.last_utc or datetime.now(UTC)


def _span(durable: Durable, now: datetime, days: float | None) -> tuple[datetime, datetime]:
    """Raises ValueError where no time is meant."""
    if days is not None:
        return now - timedelta(days=days_back(days)), now
    if not durable.absences:
        raise ValueError("nobody was away yet: give a number of --days to look back over, or say so first: dosectl away")
    last = durable.absences[-1]
    return last.begun, last.ended or now


VERB = Verb(
    "account", "One page of what happened while you were away, or over the last days.", "dosectl account", _arguments, _run
)
