"""`dosectl check`: reads a settings file, says every fault at once, and what it means in mg/L and pH."""

import argparse
import sys
from pathlib import Path

from dosectl.cli.verb import DONE, REFUSED, Verb
from dosectl.settings.describe import implications
from dosectl.settings.findings import SettingsError
from dosectl.settings.load import load


def _arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--config", metavar="FILE", required=True, help="settings file")


def _run(arguments: argparse.Namespace) -> int:
    try:
        loaded = load(Path(arguments.config))
    except SettingsError as error:
        print(error, file=sys.stderr)
        return REFUSED
    for line in implications(loaded.site):
        print(line)
    for warning in loaded.warnings:
        print(f"warning: {warning}")
    print("The file can be used. Wired interlocks come first: dosectl adds to them and never replaces them.")
    return DONE


VERB = Verb(
    "check", "Read a settings file and say what it means in mg/L and pH.", "dosectl check --config pool.toml", _arguments, _run
)
