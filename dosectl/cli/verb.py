"""The shape of a verb: one file each, one line in `__main__`."""

import argparse
from collections.abc import Callable
from dataclasses import dataclass

DONE, REFUSED, USAGE, NO_ANSWER = 0, 1, 2, 3
NOT_READY, CANT_KNOW = 4, 5
"""What was asked is answered, and the answer is no, or that nobody can know."""


@dataclass(frozen=True, slots=True)
class Verb:
    """A verb of the command line.

    example : a line that works, shown first in its help
    arguments : adds the verb's arguments; run : does it and returns the exit status
    """

    name: str
    help: str
    example: str
    arguments: Callable[[argparse.ArgumentParser], None]
    run: Callable[[argparse.Namespace], int]


def add_config(parser: argparse.ArgumentParser) -> None:
    """The settings file: by option, environment, usual place, or that of the running demo."""
    parser.add_argument(
        "--config", metavar="FILE", help="settings file (else DOSECTL_CONFIG, a running demo's, or /etc/dosectl/pool.toml)"
    )
