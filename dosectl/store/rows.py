"""One step's events, commands, decisions, alarms, replies, tests and telemetry as rows. All inside the caller's transaction."""

import json
import math
import sqlite3
import zlib

from dosectl.model.feeds import FeedOff, FeedOn
from dosectl.model.reasons import Fact, Facts, Reason
from dosectl.model.telemetry import FieldValue
from dosectl.store.entry import FeederDecision, JournalEntry, Outcome
from dosectl.store.instants import to_us

REFRESH_US = 15 * 60 * 1_000_000  # an unchanged decision is written again this often, so that its facts are not older


def facts_json(facts: Facts) -> str:
    """Facts as a JSON object, in order. A number that is not finite is kept as text: it must not cost the ledger its commit."""
    return json.dumps({name: _writable(fact) for name, fact in facts}, allow_nan=False, separators=(",", ":"))


def _writable(fact: Fact | None) -> Fact | None:
    return str(fact) if isinstance(fact, float) and not math.isfinite(fact) else fact


def storable(text: str) -> str:
    """Text from outside without halves of surrogate pairs: JSON may hold one, and SQLite would refuse the whole row."""
    return text.encode("utf-8", "replace").decode("utf-8")


def reasons_json(reasons: tuple[Reason, ...]) -> str:
    """Reasons as a JSON list of [code, facts, since in microseconds]."""
    rows = [[reason.code, {name: _writable(fact) for name, fact in reason.facts}, to_us(reason.since.utc)] for reason in reasons]
    return json.dumps(rows, allow_nan=False, separators=(",", ":"))


class ChangeFilter:
    """Remembers what was last written per feeder, so that a renewal each few seconds does not become a row each.

    Kept as proposals until the transaction held: `settle` after a commit, `forget` after a failure.
    """

    def __init__(self) -> None:
        self._decided: dict[str, tuple[object, int]] = {}
        self._running: dict[str, tuple[int, int] | None] = {}  # feeder -> (debit, renewals), None when off
        self._before: tuple[dict[str, tuple[object, int]], dict[str, tuple[int, int] | None]] = ({}, {})

    def settle(self) -> None:
        """What was proposed is on the disk."""
        self._before = (dict(self._decided), dict(self._running))

    def forget(self) -> None:
        """What was proposed is not on the disk."""
        self._decided, self._running = dict(self._before[0]), dict(self._before[1])

    def decision(self, decision: FeederDecision, at_us: int) -> bool | None:
        """None: write nothing; False: it changed; True: a refresh of the same."""
        shape = (decision.outcome, tuple(reason.code for reason in decision.reasons))
        known = self._decided.get(decision.feeder)
        if known is not None and known[0] == shape:
            due = decision.outcome is Outcome.WITHHELD and not 0 <= at_us - known[1] < REFRESH_US
            if not due:
                return None
        self._decided[decision.feeder] = (shape, at_us)
        return known is not None and known[0] == shape

    def command(self, command: FeedOn | FeedOff) -> int | None:
        """None: a renewal or a repeated OFF, write nothing; else the renewals of the run it ends (0 for a start)."""
        known = self._running.get(command.feeder, (-1, -1))
        if isinstance(command, FeedOn):
            if known is not None and known[0] == command.debit_no:
                self._running[command.feeder] = (known[0], known[1] + 1)
                return None
            self._running[command.feeder] = (command.debit_no, 0)
            return 0
        self._running[command.feeder] = None
        return None if known is None else max(known[1], 0)


def write_step(connection: sqlite3.Connection, entry: JournalEntry, changed: ChangeFilter, next_no: int) -> None:
    """Writes all small rows of a step. next_no : number of the next reservation."""
    at_us = to_us(entry.at_utc)
    for name, body in entry.parts:
        connection.execute("INSERT INTO parts VALUES (?, ?) ON CONFLICT (name) DO UPDATE SET body = excluded.body", (name, body))
    for event in entry.events:
        connection.execute(
            "INSERT INTO events (at_us, step_no, code, facts) VALUES (?, ?, ?, ?)",
            (to_us(event.at.utc), entry.step_no, event.code, facts_json(event.facts)),
        )
    for alarm in entry.alarms:
        priority = alarm.priority if isinstance(alarm.priority, str) else alarm.priority.name.lower()
        connection.execute(
            "INSERT INTO alarms (at_us, code, occurrence, change, priority, present, acked, latched, facts) "
            "VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)",
            (
                *(at_us, alarm.code, alarm.occurrence, alarm.change, priority),
                *(alarm.present, alarm.acked, alarm.latched, facts_json(alarm.facts)),
            ),
        )
    for decision in entry.decisions:
        again = changed.decision(decision, at_us)
        if again is not None:
            connection.execute(
                "INSERT INTO decisions (at_us, feeder, outcome, reasons, again) VALUES (?, ?, ?, ?, ?)",
                (at_us, decision.feeder, decision.outcome.value, reasons_json(decision.reasons), again),
            )
    _write_commands(connection, entry, changed, at_us)
    _write_people(connection, entry, at_us)
    for point in entry.telemetry:
        connection.execute(
            "INSERT INTO telemetry (at_us, measurement, tags, fields) VALUES (?, ?, ?, ?)",
            (to_us(point.at_utc), point.measurement, facts_json(point.tags), _fields_json(point.fields)),
        )
    if entry.plan is not None:
        connection.execute("INSERT OR IGNORE INTO plans VALUES (?, ?, ?)", (entry.plan_digest, at_us, zlib.compress(entry.plan)))
    connection.execute("INSERT OR REPLACE INTO last VALUES (1, ?, ?, ?, ?)", (entry.step_no, at_us, entry.clock_s, next_no))


def _fields_json(fields: tuple[tuple[str, FieldValue], ...]) -> str:
    # Not known and not finite are both left out on the way to the server; null keeps the name in the record.
    known = {name: None if isinstance(value, float) and not math.isfinite(value) else value for name, value in fields}
    return json.dumps(known, separators=(",", ":"))


def _write_commands(connection: sqlite3.Connection, entry: JournalEntry, changed: ChangeFilter, at_us: int) -> None:
    for command in entry.commands:
        renewed = changed.command(command)
        if renewed is None:
            continue
        said: tuple[float | int | str | None, ...]
        if isinstance(command, FeedOn):
            said = (command.level, command.expires_s, command.debit_no, renewed, "", "{}")
        else:
            said = (0.0, 0.0, None, renewed, command.why.code, facts_json(command.why.facts))
        connection.execute(
            "INSERT INTO commands (at_us, feeder, command_no, level, expires_s, debit_no, renewed, code, facts) "
            "VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)",
            (at_us, command.feeder, command.command_no, *said),
        )


def _write_people(connection: sqlite3.Connection, entry: JournalEntry, at_us: int) -> None:
    for request in entry.snapshot.requests if entry.snapshot is not None else ():
        connection.execute(
            "INSERT OR IGNORE INTO requests VALUES (?, ?, ?, ?, ?, ?)",
            (
                storable(request.id),
                at_us,
                storable(request.kind),
                facts_json(request.arguments),
                storable(request.by),
                request.place.value,
            ),
        )
    for reply in entry.replies:
        connection.execute(
            "INSERT OR IGNORE INTO replies VALUES (?, ?, ?, ?, ?, ?)",
            (storable(reply.request), at_us, reply.done, reply.code, facts_json(reply.facts), storable(reply.words)),
        )
    for test in entry.tests:
        connection.execute(
            "INSERT INTO tests VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?) ON CONFLICT (request, quantity) DO UPDATE SET "
            "withdrawn = max(withdrawn, excluded.withdrawn)",
            (
                *(storable(test.request), test.quantity.value, test.value, test.sigma, storable(test.method)),
                *(to_us(test.taken_utc), test.taken_s, test.entered_s, storable(test.by), test.withdrawn),
            ),
        )
