"""`dosectl reference`: the tables of settings, interlocks and alarms, made from the code that uses them. Markdown on stdout."""

import argparse
from collections.abc import Iterator

from dosectl.cli.verb import DONE, Verb
from dosectl.core.alarms.catalogue import ROWS
from dosectl.core.interlocks.registry import KINDS
from dosectl.settings.reference import reference_markdown


def _cell(text: str) -> str:
    return " ".join(text.replace("|", "\\|").split())


def _table(heads: tuple[str, ...], rows: Iterator[tuple[str, ...]]) -> str:
    lines = [f"| {' | '.join(heads)} |", f"|{' --- |' * len(heads)}"]
    lines += [f"| {' | '.join(_cell(cell) for cell in row)} |" for row in rows]
    return "\n".join(lines)


def interlocks() -> str:
    """Every kind of guard, in causal order: the first to deny is named as the first cause."""
    rows = ((str(kind.code), kind.stops, kind.clears, kind.why) for kind in KINDS)
    head = (
        "# Interlocks\n\nThey add to wired interlocks and never replace them. Settings of each: `dosectl reference settings`.\n\n"
    )
    return head + _table(("interlock", "stops", "ends by", "why"), rows)


def alarms() -> str:
    """Every alarm, the gravest first."""
    rows = (
        (str(row.code), row.priority.name.lower(), row.title, row.consequence, row.respond_within, row.does, row.response)
        for row in sorted(ROWS, key=lambda row: -row.priority)
    )
    return "# Alarms\n\n" + _table(("alarm", "priority", "what", "if nobody acts", "within", "dosectl has", "you"), rows)


TABLES = {"settings": reference_markdown, "interlocks": interlocks, "alarms": alarms}


def _arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("table", choices=tuple(TABLES))


def _run(arguments: argparse.Namespace) -> int:
    print(TABLES[arguments.table]())
    return DONE


VERB = Verb("reference", "Print the tables of settings, interlocks and alarms.", "dosectl reference alarms", _arguments, _run)
