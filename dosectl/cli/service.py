"""`dosectl service on|off`: the lockout for whoever works on pipes, containers or feeders. It never ends by itself."""

import argparse

from dosectl.cli.asking import add_common, send
from dosectl.cli.verb import Verb


def _arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("state", choices=("on", "off"))
    parser.add_argument("--note", metavar="TEXT", help="what is done at the plant, for the record")
    add_common(parser)


def _run(arguments: argparse.Namespace) -> int:
    if arguments.state == "off":
        return send(arguments, "service_off", {})
    return send(arguments, "service_on", {"note": arguments.note} if arguments.note else {})


VERB = Verb("service", "Begin or end a service lockout.", "dosectl service on --note 'new tube'", _arguments, _run)
