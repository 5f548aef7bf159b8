"""Reads the daemon's retained view of the state for verbs that show something before they ask."""

import argparse
import sys
from typing import Any

from dosectl.bus.ask import Asker, NoBroker
from dosectl.cli.verb import NO_ANSWER, REFUSED
from dosectl.cli.where import NoInstallation, installation


def view(arguments: argparse.Namespace) -> dict[str, Any] | int:
    """The view, or the exit status after the reason was said."""
    try:
        loaded = installation(arguments)
        with Asker(loaded.broker) as asker:
            seen = asker.state()
    except NoInstallation as error:
        print(error, file=sys.stderr)
        return REFUSED
    except NoBroker as error:
        print(f"the broker can't be reached: {error}", file=sys.stderr)
        return NO_ANSWER
    if seen is None:
        print("the daemon has published nothing yet: is it running?", file=sys.stderr)
        return NO_ANSWER
    return seen


def typed(question: str, wanted: str) -> bool:
    """Whether the person typed exactly the word that was asked for; a closed input is a no."""
    try:
        return input(question).strip() == wanted
    except EOFError:
        print()
        return False
