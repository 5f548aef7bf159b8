"""`dosectl away`: "I am away for so long". Says first what is not ready for it; that bars nothing."""

import argparse
import sys

from dosectl.cli.account import kept
from dosectl.cli.asking import add_common, send
from dosectl.cli.leave import conditions_of, line_of, pool_now
from dosectl.cli.spans import WrongSpan, days_ahead, moment_ahead
from dosectl.cli.verb import DONE, REFUSED, USAGE, Verb
from dosectl.cli.where import NoInstallation, installation
from dosectl.core.advice.absence import State
from dosectl.model.absences import lasting
from dosectl.model.reasons import Fact
from dosectl.settings.load import Loaded
from dosectl.store.faults import JournalError
from dosectl.texts.figures import moment_text
from dosectl.texts.render import Texts


def _arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--days", type=float, metavar="N", help="for how long")
    parser.add_argument("--until", metavar="DATE", help="or until when: 2026-08-14 (its evening), or a time, at the pool")
    add_common(parser)


def _run(arguments: argparse.Namespace) -> int:
    if arguments.days is not None and arguments.until is not None:
        print("--days and --until: both were given. Give one: for how long, or up to when. Nothing was changed.", file=sys.stderr)
        return USAGE
    try:
        loaded = installation(arguments)
        if arguments.days is None and arguments.until is None:
            print(_standing(loaded))
            return DONE
        if arguments.until is None:
            days = days_ahead(arguments.days)
            facts: dict[str, Fact] = {"days": days}
        else:
            now = pool_now(loaded)
            until = moment_ahead(arguments.until, loaded.site.pool.time_zone, now)
            days = (until - now).total_seconds() / 86400.0
            facts = {"until": until.isoformat()}
    except WrongSpan as error:
        print(f"{error} Nothing was changed.", file=sys.stderr)
        return USAGE
    except (NoInstallation, JournalError, ValueError) as error:
        print(error, file=sys.stderr)
        return REFUSED
    if not arguments.json:
        _say_what_is_not_ready(loaded, arguments, days)
    return send(arguments, "go_away", facts)


def _say_what_is_not_ready(loaded: Loaded, arguments: argparse.Namespace, days: float) -> None:
    """That it can't be said is no reason not to go: the request itself is judged by the daemon."""
    try:
        for condition in conditions_of(loaded, arguments, days):
            if condition.state is not State.READY:
                print(line_of(condition), file=sys.stderr)
    except (JournalError, ValueError) as error:
        print(error, file=sys.stderr)


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


VERB = Verb(
    "away", "Say that you are away: each morning one line, people are called sooner.", "dosectl away --days 14", _arguments, _run
)
