"""`dosectl check`: reads a settings file, says every fault at once, and what it means in mg/L and pH."""

import argparse
import sys
from pathlib import Path

from dosectl.cli.verb import DONE, REFUSED, Verb
from dosectl.settings.describe import implications
from dosectl.settings.findings import SettingsError
from dosectl.settings.load import Loaded, load


def _arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--config", metavar="FILE", required=True, help="settings file")


def _run(arguments: argparse.Namespace) -> int:
    try:
        loaded = load(Path(arguments.config))
    except SettingsError as error:
        print(error, file=sys.stderr)
        return REFUSED
    unusable = _unusable_routes(loaded)
    if unusable:
        print("\n".join(unusable), file=sys.stderr)
        return REFUSED
    for line in implications(loaded.site, loaded.params["control"]):
        print(line)
    for warning in loaded.warnings:
        print(f"warning: {warning}")
    print("The file can be used. Wired interlocks come first: dosectl adds to them and never replaces them.")
    return DONE


def _unusable_routes(loaded: Loaded) -> list[str]:
    """Addresses that the notification library can't use: they would reach nobody, and only the first call would show it."""
    if loaded.notify is None:
        return []
    from dosectl.notify.route import library_takes  # the library is large, and most files name nobody

    why = "the address in this file is none that the notification library can use"
    do = "Look whether its kind (what stands before ://) is spelt right and a part is missing"
    return [
        f'notify.persons.{person.id}.{key} = "{route.name}": {why}. {do}.'
        for person in loaded.notify.persons
        for key, routes in (("routes", person.routes), ("urgent_routes", person.urgent_routes))
        for route in routes
        if not library_takes(route.url)
    ]


VERB = Verb(
    "check", "Read a settings file and say what it means in mg/L and pH.", "dosectl check --config pool.toml", _arguments, _run
)
