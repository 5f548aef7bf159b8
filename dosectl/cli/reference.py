"""`dosectl reference`: tables of settings, interlocks, alarms and hazards, made from the code that uses them. Markdown."""

import argparse
from collections.abc import Iterator

from dosectl.cli.verb import DONE, Verb
from dosectl.core.alarms.catalogue import ROWS
from dosectl.core.alarms.hiding import WORDS as HIDING_WORDS
from dosectl.core.alarms.row import EVERYTHING, Row
from dosectl.core.interlocks.hazards import HAZARDS
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
    """Every alarm, the gravest first, with what it waits for, what hides it and what it follows from."""
    rows = (
        (
            *(str(row.code), row.priority.name.lower(), row.title, row.consequence, row.harm.value, row.respond_within),
            *(row.does, row.response, _delays(row), ", ".join(HIDING_WORDS[name] for name in row.hidden_by) or "-"),
            "whatever comes earlier" if row.follows == EVERYTHING else ", ".join(row.follows) or "-",
            row.fault,
        )
        for row in sorted(ROWS, key=lambda row: -row.priority)
    )
    head = ("alarm", "priority", "what", "if nobody acts", "class", "within", "dosectl has", "you")
    return "# Alarms\n\n" + _table((*head, "waits", "silent while", "follows from", "tested by"), rows)


def _delays(row: Row) -> str:
    """On-delay and off-delay, rises and latch in words."""
    parts = [f"{_span(row.on_delay_s)} to come, {_span(row.off_delay_s)} to go"]
    parts += [f"{priority.name.lower()} after {_span(age_s)}" for age_s, priority in row.rises]
    parts += [f"{row.away.name.lower()} while the owner is away"] if row.away is not None else []
    return "; ".join((*parts, "stays until answered") if row.latch else parts)


def _span(seconds: float) -> str:
    for unit, length_s in (("d", 86400.0), ("h", 3600.0), ("min", 60.0)):
        if seconds >= length_s:
            return f"{seconds / length_s:g} {unit}"
    return f"{seconds:g} s"


def hazards() -> str:
    """The hazard log: what may go wrong, what stands against it, what shows that it does, and what software does not hold."""
    rows = (
        (
            *(
                hazard.title,
                hazard.harms,
                hazard.causes,
                hazard.reaction,
                ", ".join(hazard.guards) or f"none: {hazard.unguarded}",
            ),
            *(", ".join(hazard.alarms), ", ".join(test.rsplit("::", 1)[-1].removeprefix("test_") for test in hazard.tests)),
            *(hazard.proof, hazard.left, hazard.wired),
        )
        for hazard in HAZARDS
    )
    head = (
        "hazard",
        "harms",
        "causes",
        "what is done",
        "interlocks",
        "alarms",
        "shown by",
        "proof step",
        "software does not hold",
    )
    return "# Hazards\n\n" + _table((*head, "what must hold that"), rows)


TABLES = {"settings": reference_markdown, "interlocks": interlocks, "alarms": alarms, "hazards": hazards}


def _arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("table", choices=tuple(TABLES))


def _run(arguments: argparse.Namespace) -> int:
    print(TABLES[arguments.table]())
    return DONE


VERB = Verb(
    "reference", "Print the tables of settings, interlocks, alarms and hazards.", "dosectl reference alarms", _arguments, _run
)
