"""`dosectl status`: the daemon's own view of everything, as it published it last."""

import argparse
import json
from datetime import UTC, datetime

from dosectl.cli.seen import view
from dosectl.cli.verb import DONE, NO_ANSWER, Verb, add_config

STALE_S = 30.0


def _arguments(parser: argparse.ArgumentParser) -> None:
    add_config(parser)
    parser.add_argument("--signals", action="store_true", help="list every signal with its status")
    parser.add_argument("--json", action="store_true", help="print the view as JSON (its 'view' field is its version)")


def _run(arguments: argparse.Namespace) -> int:
    seen = view(arguments)
    if isinstance(seen, int):
        return seen
    if arguments.json:
        print(json.dumps(seen))
        return DONE
    from rich.console import Console

    from dosectl.cli.show import draw

    console = Console()
    console.print(draw(seen, signals=arguments.signals))
    age_s = (datetime.now(UTC) - datetime.fromisoformat(seen["at_utc"])).total_seconds()
    if not seen["pool"]["simulated"] and age_s > STALE_S:
        console.print(f"this is {age_s:.0f} s old: the daemon does not run, or its clock or the bus is wrong")
        return NO_ANSWER
    return DONE


VERB = Verb(
    "status",
    "Show the water, the target, each feeder with its reason, interlocks and alarms.",
    "dosectl status",
    _arguments,
    _run,
)
