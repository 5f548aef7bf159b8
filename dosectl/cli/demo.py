"""`dosectl demo`: a broker, a simulated pool in a process of its own, and the unmodified daemon; the console shows it all."""

import argparse
import sys
import tempfile
from pathlib import Path

from dosectl.cli.verb import REFUSED, USAGE, Verb

# 28,800 instants of 3 s make a day: at this speed the day passes in some two and a half minutes where the machine keeps up.
SPEED = 640.0
HOURS_MAX = 24.0 * 366.0


def _arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--speed", type=float, default=SPEED, metavar="X", help=f"at most X simulated seconds a second ({SPEED:g})"
    )
    parser.add_argument(
        "--hours", type=float, default=None, metavar="H", help="end by itself after H simulated hours, with a summary"
    )
    parser.add_argument("--seed", type=int, default=1, metavar="N", help="another N is another weather and other bathers")
    parser.add_argument("--hypochlorite", action="store_true", help="a hypochlorite pump instead of the salt chlorinator")
    parser.add_argument("--broker", metavar="HOST:PORT", help="use this broker instead of starting one (no account, no TLS)")
    parser.add_argument("--embedded", action="store_true", help="start the embedded broker even where mosquitto is installed")
    parser.add_argument("--plain", action="store_true", help="print a line each simulated half hour instead of the live picture")
    parser.add_argument("--keep", metavar="DIR", help="keep settings, journal and logs here; left out: a folder that is removed")


def _run(arguments: argparse.Namespace) -> int:
    from dosectl.cli.demo_parts import DemoFailed, play

    if not arguments.speed > 0.0:
        print(f"dosectl demo: --speed {arguments.speed}: more than 0 is needed", file=sys.stderr)
        return USAGE
    if arguments.hours is not None and not 0.0 < arguments.hours <= HOURS_MAX:
        print(f"dosectl demo: --hours {arguments.hours:g}: accepted is more than 0 and at most {HOURS_MAX:g}", file=sys.stderr)
        return USAGE
    try:
        if arguments.keep:
            folder = Path(arguments.keep)
            folder.mkdir(parents=True, exist_ok=True)
            return play(arguments, folder.resolve())
        with tempfile.TemporaryDirectory(prefix="dosectl-demo-") as name:
            return play(arguments, Path(name))
    except DemoFailed as error:
        print(f"dosectl demo: {error}", file=sys.stderr)
        return REFUSED


VERB = Verb(
    "demo", "Watch the daemon hold a simulated pool. Nothing real is fed; all data is invented.", "dosectl demo", _arguments, _run
)
