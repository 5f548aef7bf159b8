"""`dosectl away`: "I am away for so long". Says first what is not ready for it; that bars nothing."""

import argparse
import sys
from datetime import UTC, datetime, time

from dosectl.cli.account import kept
from dosectl.cli.asking import add_common, send
from dosectl.cli.leave import conditions_of, line_of
from dosectl.cli.verb import DONE, REFUSED, USAGE, Verb
from dosectl.cli.where import NoInstallation, installation
from dosectl.core.advice.absence import State
from dosectl.model.absences import lasting
from dosectl.settings.load import Loaded
from dosectl.store.faults import JournalError
from dosectl.texts.figures import moment_text
from dosectl.texts.render import Texts

HOME_BY = time(20, 0)
"""A bare date of return means the evening of that day at the pool."""


def _arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--days", type=float, metavar="N", help="for how long")
    parser.add_argument("--until", metavar="DATE", help="or until when: 2026-08-14 (its evening), or a time with its zone")
    add_common(parser)


def _run(arguments: argparse.Namespace) -> int:
    if arguments.days is not None and arguments.until is not None:
        print("give one of --days and --until, not both", file=sys.stderr)
        return USAGE
    until: datetime | None = None
    try:
        loaded = installation(arguments)
        if arguments.days is None and arguments.until is None:
            print(_standing(loaded))
            return DONE
        until = None if arguments.until is None else _moment(arguments.until, loaded.site.pool.time_zone)
        days = arguments.days if until is None else (until - datetime.now(UTC)).total_seconds() / 86400.0
        if not arguments.json:
            for condition in conditions_of(loaded, arguments, days):
                if condition.state is not State.READY:
                    print(line_of(condition), file=sys.stderr)
    except NoInstallation as error:
        print(error, file=sys.stderr)
        return REFUSED
    except (JournalError, ValueError) as error:
        # Not ready to say is no reason not to go: the request itself is judged by the daemon.
        print(error, file=sys.stderr)
        if arguments.until is not None and until is None:
            return USAGE
    if arguments.days is not None:
        return send(arguments, "go_away", {"days": arguments.days})
    assert until is not None
    return send(arguments, "go_away", {"until": until.isoformat()})


def _standing(loaded: Loaded) -> str:
    """Whether somebody is away."""
    durable, _ = kept(loaded)
    last = lasting(durable.absences)
    if last is None:
        return "nobody is away"
    zone = Texts(loaded.site.pool.time_zone).zone
    return (
        f"{last.by} is away since {moment_text(last.begun, zone)}; it ends {moment_text(last.until, zone)}, or with: dosectl back"
    )


def _moment(text: str, time_zone: str) -> datetime:
    """The moment of a date or time as typed, at the pool. Raises ValueError for what is none."""
    zone = Texts(time_zone).zone
    moment = datetime.fromisoformat(text)
    if len(text) <= 10:
        moment = datetime.combine(moment.date(), HOME_BY)
    return moment if moment.tzinfo is not None else moment.replace(tzinfo=zone)


VERB = Verb(
    "away", "Say that you are away: each morning one line, people are called sooner.", "dosectl away --days 14", _arguments, _run
)
