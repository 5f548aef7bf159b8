"""Verbs that are one request each: their arguments and help come from the request's own table."""

import argparse
from collections.abc import Callable

from dosectl.cli.asking import add_arguments, add_common, ask_verb, kind_of
from dosectl.cli.verb import Verb

_EXAMPLES = {
    "stop": ("stop", "dosectl stop"),
    "close": ("close_season", "dosectl close"),
    "release": ("release", "dosectl release"),
    "refill": ("refill", "dosectl refill acid 5000"),
    "back": ("come_back", "dosectl back"),
    "calibrated": ("calibrated", "dosectl calibrated ph"),
    "replaced": ("replaced", "dosectl replaced cell"),
    "added": ("added_by_hand", "dosectl added hypochlorite 2000 --strength-trade-percent 12.5"),
    "shelve": ("shelve_alarm", "dosectl shelve feed.cell_trouble 12 'cell is being cleaned'"),
    "unshelve": ("unshelve_alarm", "dosectl unshelve feed.cell_trouble"),
    "retire": ("take_out_of_service", "dosectl retire probe.sample_flow 3 'switch sent in for repair'"),
    "restore": ("back_in_service", "dosectl restore probe.sample_flow"),
    "useless": ("mark_useless", "dosectl useless pump.hours_short"),
    "dispense": ("dispense", "dosectl dispense acid 20"),
}


def _verb(name: str, code: str, example: str) -> Verb:
    kind = kind_of(code)

    def arguments(parser: argparse.ArgumentParser) -> None:
        add_arguments(parser, kind)
        add_common(parser)

    run: Callable[[argparse.Namespace], int] = lambda parsed: ask_verb(code, parsed)  # noqa: E731 - one line says it all
    return Verb(name, kind.help, example, arguments, run)


VERBS = {name: _verb(name, code, example) for name, (code, example) in _EXAMPLES.items()}
