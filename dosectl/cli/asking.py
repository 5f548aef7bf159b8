"""Sends a request to the daemon and prints its reply: the daemon judges, this only carries."""

import argparse
import getpass
import json
import math
import sys
from collections.abc import Mapping
from typing import Any

from dosectl.bus.ask import Asker, NoBroker, NotAllowed
from dosectl.cli.verb import DONE, NO_ANSWER, REFUSED, USAGE
from dosectl.cli.where import NoInstallation, installation
from dosectl.core.requests.kind import Argument, ArgumentType, RequestKind
from dosectl.core.requests.registry import KINDS
from dosectl.model.reasons import Fact
from dosectl.model.requests import Place
from dosectl.settings.load import Loaded


def kind_of(code: str) -> RequestKind:
    """The request kind of a code. Raises StopIteration for an unknown one."""
    return next(kind for kind in KINDS if kind.code == code)


def add_common(parser: argparse.ArgumentParser) -> None:
    """Options of every verb that asks the daemon."""
    parser.add_argument(
        "--config", metavar="FILE", help="settings file (else DOSECTL_CONFIG, a running demo's, or the usual place)"
    )
    parser.add_argument("--wait-s", type=float, default=10.0, metavar="S", help="how long to wait for the reply")
    parser.add_argument("--json", action="store_true", help="print the reply as JSON")


def _reader(argument: Argument) -> Any:
    match argument.type:
        case ArgumentType.NUMBER:
            return float
        case ArgumentType.WHOLE:
            return int
        case _:
            return str


def add_arguments(parser: argparse.ArgumentParser, kind: RequestKind) -> None:
    """The request's own arguments: what is required by place, the rest as long options."""
    for argument in kind.arguments:
        unit = f" [{argument.unit}]" if argument.unit else ""
        choices = f" ({', '.join(argument.choices)})" if argument.choices else ""
        text = f"{argument.help}{unit}{choices}".replace("%", "%%")
        if argument.type is ArgumentType.YES_NO:
            parser.add_argument(f"--{argument.name.replace('_', '-')}", action="store_true", default=None, help=text)
        elif argument.required:
            parser.add_argument(argument.name, type=_reader(argument), help=text, metavar=argument.name.upper())
        else:
            parser.add_argument(f"--{argument.name.replace('_', '-')}", type=_reader(argument), help=text, metavar="X")


def facts_from(arguments: argparse.Namespace, kind: RequestKind) -> dict[str, Fact]:
    """The request's arguments as typed."""
    found = {argument.name: getattr(arguments, argument.name, None) for argument in kind.arguments}
    return {name: value for name, value in found.items() if value is not None}


def account_of(loaded: Loaded) -> str:
    """The account on the broker: its topic bounds what may be asked."""
    return loaded.broker.username or "owner"


BY_HAND = "To stop feeding now, cut the feeders' power."


def send(arguments: argparse.Namespace, code: str, facts: Mapping[str, Fact]) -> int:
    """Asks and prints. Exit status: done, refused, wrong usage, or no answer."""
    for name, value in facts.items():
        if isinstance(value, float) and not math.isfinite(value):
            print(f"{name}: {value} is no number that can be entered. Nothing was changed.", file=sys.stderr)
            return USAGE
    try:
        loaded = installation(arguments)
        with Asker(loaded.broker) as asker:
            answer = asker.ask(account_of(loaded), Place.CONSOLE, code, facts, by=getpass.getuser(), limit_s=arguments.wait_s)
    except NoInstallation as error:
        print(error, file=sys.stderr)
        return REFUSED
    except (NoBroker, NotAllowed) as error:
        print(f"the broker did not take it: {error}. Take it as not done. {BY_HAND}", file=sys.stderr)
        return NO_ANSWER
    if answer is None:
        print(
            f"no answer within {arguments.wait_s:g} s: nobody knows whether it was done. "
            f"Look with 'dosectl status'; the request expires by itself. {BY_HAND}",
            file=sys.stderr,
        )
        return NO_ANSWER
    if arguments.json:
        print(json.dumps({"done": answer.done, "code": answer.code, "facts": dict(answer.facts), "text": answer.text}))
    else:
        print(answer.text)
    return DONE if answer.done else REFUSED


def ask_verb(code: str, arguments: argparse.Namespace) -> int:
    """For verbs whose arguments are exactly the request's."""
    return send(arguments, code, facts_from(arguments, kind_of(code)))
