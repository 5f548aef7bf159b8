"""The file itself: bytes to TOML to checked tables. Every table is judged, so that all findings come at once."""

import math
import tomllib
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any, cast

from dosectl.model.signals import SignalKind
from dosectl.settings import rooms
from dosectl.settings.findings import Finding, SettingsError, shown
from dosectl.settings.tables.fields import Strict
from dosectl.settings.tables.guesses import nearest
from dosectl.settings.tables.notify import NotifyTable, PersonTable
from dosectl.settings.tables.schema import (
    AcidPumpTable,
    BrokerTable,
    CalendarTable,
    CellTable,
    FeederTable,
    ForwardTable,
    HypochloritePumpTable,
    JournalTable,
    PoolTable,
    TimingTable,
)
from dosectl.settings.tables.sections import Section, model_of, tree_of
from dosectl.settings.tables.signal_kinds import shape_of, signal_model
from dosectl.settings.tables.validation import validated

BYTES_MAX = 1_000_000
ITEMS_MAX = 60
FEEDER_TABLES: dict[str, type[FeederTable]] = {
    "cell": CellTable,
    "hypochlorite_pump": HypochloritePumpTable,
    "acid_pump": AcidPumpTable,
}
PLAIN_TABLES: dict[str, type[Strict]] = {
    "pool": PoolTable,
    "broker": BrokerTable,
    "timing": TimingTable,
    "journal": JournalTable,
    "forward": ForwardTable,
    "notify": NotifyTable,
    "calendar": CalendarTable,
}
OPTIONAL = ("forward", "notify", "calendar")
"""Plain tables that mean nothing where they are left out."""
SIGNAL_TABLES: dict[SignalKind, type[Strict]] = {kind: signal_model(shape_of(kind)) for kind in SignalKind}


@dataclass(frozen=True, slots=True)
class SignalTable:
    """One checked signal: its name, kind and keys (those of its kind, see `signal_kinds`)."""

    name: str
    kind: SignalKind
    keys: Any


@dataclass(frozen=True, slots=True)
class Tables:
    """The checked tables of a file, before anything is compared across them. `rooms` by top-level name.

    complete : every table was right. Where not, those that were wrong are left out, and a stand-in of which no mass can be judged
        takes the pool's place: only for checks that seek more findings
    """

    pool: PoolTable
    broker: BrokerTable
    timing: TimingTable
    journal: JournalTable
    forward: ForwardTable | None
    signals: tuple[SignalTable, ...]
    feeders: tuple[tuple[str, FeederTable], ...]
    rooms: dict[str, Strict]
    complete: bool = True
    notify: NotifyTable | None = None
    persons: tuple[tuple[str, PersonTable], ...] = ()
    calendar: CalendarTable | None = None


def read_toml(path: Path) -> dict[str, Any]:
    """The file as nested tables. Raises SettingsError where it can't be read or is no TOML."""
    try:
        with path.open("rb") as file:
            raw = file.read(BYTES_MAX + 1)
    except OSError as error:
        why = f"it can't be read: {error.strerror}"
        raise SettingsError(str(path), (Finding("", "the file", why, "check its path and rights"),)) from error
    if len(raw) > BYTES_MAX:
        raise SettingsError(str(path), (Finding("", "the file", "it is larger than 1 MB", "name a settings file"),))
    try:
        return tomllib.loads(raw.decode("utf-8-sig"))
    except UnicodeDecodeError as error:
        why = f"byte {error.start} is not UTF-8"
        raise SettingsError(str(path), (Finding("", "the file", why, "save it as UTF-8 text"),)) from error
    except (tomllib.TOMLDecodeError, ValueError, RecursionError) as error:
        # ValueError: a number too long to convert; RecursionError: thousands of brackets
        why = f"it is no TOML: {str(error)[:200]}"
        do = 'look at that place: texts stand in "quotes", numbers have a decimal point, a key stands once in its table'
        raise SettingsError(str(path), (Finding("", "the file", why, do),)) from error


def check_tables(data: dict[str, Any], sections: tuple[Section, ...] | None = None) -> tuple[Tables, tuple[Finding, ...]]:
    """All tables against their models, and every finding; with any finding the tables are not `complete`."""
    models = room_models(rooms.sections() if sections is None else sections)
    known = (*PLAIN_TABLES, "signals", "feeders", *models)
    findings: list[Finding] = [_unknown_table(name, data[name], known) for name in data if name not in known]
    plain: dict[str, Any] = {}
    data, persons, person_findings = _persons(data)
    for name, model in (PLAIN_TABLES | models).items():
        if name in OPTIONAL and name not in data:
            plain[name] = None
            continue
        plain[name], found = validated(model, data.get(name, {}), name)
        findings.extend(found)
    signals, signal_findings = _items(data, "signals", _signal)
    feeders, feeder_findings = _items(data, "feeders", _feeder)
    findings += [*signal_findings, *feeder_findings, *person_findings]
    tables = Tables(
        pool=plain["pool"] or PoolTable.model_construct(id="pool", volume_m3=math.inf, time_zone="UTC"),
        broker=plain["broker"] or BrokerTable(),
        timing=plain["timing"] or TimingTable(),
        journal=plain["journal"] or JournalTable(),
        forward=plain["forward"],
        signals=tuple(signals),
        feeders=tuple(feeders),
        rooms={name: plain[name] for name in models if plain[name] is not None},
        complete=not findings,
        notify=plain["notify"],
        persons=tuple(persons),
        calendar=plain["calendar"],
    )
    return tables, tuple(findings)


@lru_cache(maxsize=8)
def room_models(sections: tuple[Section, ...]) -> dict[str, type[Strict]]:
    """The models of the rooms' top tables. Kept: making them takes longer than judging a file."""
    return {name: model_of(branch, name) for name, branch in tree_of(sections).tables.items()}


def _unknown_table(name: str, found: object, known: tuple[str, ...]) -> Finding:
    near = nearest(name, known)
    do = f"the nearest known table is [{near}]" if near else f"known are: {', '.join(known)}"
    return Finding(name, shown(found), "this table is not known", do)


def _items(data: dict[str, Any], name: str, one: Any) -> tuple[list[Any], list[Finding]]:
    tables = data.get(name, {})
    if not isinstance(tables, dict):
        return [], [Finding(name, shown(tables), "a table of tables is wanted here", f"write [{name}.<name>] for each")]
    if not tables:
        return [], [Finding(name, "", "there is none", f"write [{name}.<name>] for each; the examples show how")]
    if len(tables) > ITEMS_MAX:
        return [], [Finding(name, f"{len(tables)} tables", f"accepted are at most {ITEMS_MAX}", "leave out what is not used")]
    kept: list[Any] = []
    findings: list[Finding] = []
    for item, table in tables.items():
        result, found = one(item, table)
        findings += _bad_name(f"{name}.{item}", item)
        findings += found
        if result is not None:
            kept.append(result)
    return kept, findings


def _persons(data: dict[str, Any]) -> tuple[dict[str, Any], list[tuple[str, PersonTable]], list[Finding]]:
    """The file without the persons of [notify], which bear names of the owner's own; they; and what is wrong with them."""
    notify = data.get("notify")
    if not isinstance(notify, dict):
        return data, [], []
    rest = {key: value for key, value in notify.items() if key != "persons"}
    persons, findings = _items({"notify.persons": notify.get("persons", {})}, "notify.persons", _person)
    return {**data, "notify": rest}, persons, findings


def _person(name: str, table: object) -> tuple[tuple[str, PersonTable] | None, tuple[Finding, ...]]:
    keys, findings = validated(PersonTable, table, f"notify.persons.{name}")
    return ((name, cast(PersonTable, keys)) if keys is not None else None), findings


def _bad_name(key: str, name: str) -> tuple[Finding, ...]:
    fits = name.isascii() and name[:1].islower() and name.replace("_", "").isalnum() and name == name.lower() and len(name) <= 31
    why = "a name has only a to z, 0 to 9 and _, begins with a letter and has at most 31 characters"
    return () if fits else (Finding(shown(key), "", why, "rename it"),)


def _signal(name: str, table: object) -> tuple[SignalTable | None, tuple[Finding, ...]]:
    path = f"signals.{name}"
    given = table.get("kind", name) if isinstance(table, dict) else name
    if not isinstance(given, str) or given not in {kind.value for kind in SignalKind}:
        kinds = [kind.value for kind in SignalKind]
        near = nearest(given, kinds) if isinstance(given, str) else None
        do = f'write kind = "{near}"' if near else f"write kind = one of {', '.join(kinds)}"
        return None, (Finding(f"{path}.kind", shown(given), "this kind of signal is not known", do),)
    kind = SignalKind(given)
    keys, findings = validated(SIGNAL_TABLES[kind], table, path)
    return (SignalTable(name, kind, keys) if keys is not None else None), findings


def _feeder(name: str, table: object) -> tuple[tuple[str, FeederTable] | None, tuple[Finding, ...]]:
    path = f"feeders.{name}"
    if not isinstance(table, dict):
        return None, (Finding(path, shown(table), "a table is wanted here", f"write [{path}] and its keys below it"),)
    given = table.get("kind")
    if not isinstance(given, str) or given not in FEEDER_TABLES:
        # no guess: "pump" looks most like the acid's, and what is in the container is not told by a word
        do = f"write kind = one of {', '.join(FEEDER_TABLES)}, whichever it is"
        found = "" if given is None else shown(given)
        return None, (Finding(f"{path}.kind", found, "the kind of feeder is missing or not known", do),)
    keys, findings = validated(FEEDER_TABLES[given], table, path)
    return ((name, cast(FeederTable, keys)) if keys is not None else None), findings
