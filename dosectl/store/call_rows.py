"""Calls beside the alarm changes they tell of: rows of the outbox, inside the step's own transaction."""

import json
import sqlite3
from collections.abc import Container

from dosectl.model.calls import FLOOD, Call
from dosectl.store.entry import JournalEntry
from dosectl.store.instants import to_us
from dosectl.store.rows import facts_json

ANSWERED = "answered"
CLEARED = "cleared"
SUPERSEDED = "superseded"
NEWER = ("raised", "worse")


def write_calls(connection: sqlite3.Connection, entry: JournalEntry) -> None:
    """The step's calls, and what its alarm changes mean for calls that are under way.

    An answer ends the repeating and uses up every code of the occurrence; a newer call of the same occurrence takes the place of
    the older one. A newer occurrence ends the calling of older ones that never cleared, as latched ones and such as got worse:
    nothing could answer them any more. A flood's summary is called until each of its alarms is answered, over or called itself.
    """
    at_us = to_us(entry.at_utc)
    for change in entry.alarms:
        if change.change in NEWER:
            connection.execute(
                "UPDATE calls_outbox SET closed_us = ?, closed_why = ? "
                "WHERE code = ? AND occurrence < ? AND cleared_us IS NULL AND closed_us IS NULL",
                (at_us, SUPERSEDED, change.code, change.occurrence),
            )
            _out_of_floods(connection, change.code, range(change.occurrence), at_us)
    for call in entry.calls:
        _put(connection, call)
    for change in entry.alarms:
        if change.change == ANSWERED:
            connection.execute(
                "UPDATE calls_outbox SET answered_us = ?, answered_by = ? "
                "WHERE code = ? AND occurrence = ? AND answered_us IS NULL AND closed_us IS NULL",
                (at_us, str(dict(change.facts).get("by", "")), change.code, change.occurrence),
            )
            use_codes(connection, change.code, change.occurrence, at_us)
            _out_of_floods(connection, change.code, (change.occurrence,), at_us)
        # A latched alarm is not over when its cause goes: somebody must still say that they know.
        if (change.change == CLEARED and not change.latched) or (change.change == ANSWERED and not change.present):
            connection.execute(
                "UPDATE calls_outbox SET cleared_us = ? WHERE code = ? AND occurrence = ? AND cleared_us IS NULL "
                "AND closed_us IS NULL",
                (at_us, change.code, change.occurrence),
            )
            _out_of_floods(connection, change.code, (change.occurrence,), at_us)


def _out_of_floods(connection: sqlite3.Connection, code: str, occurrences: Container[int], at_us: int) -> None:
    """These occurrences need no summary any more; one that stands for nothing else is over, and its codes are used up."""
    rows = connection.execute(
        "SELECT id, occurrence, folded, facts FROM calls_outbox WHERE code = ? AND closed_us IS NULL", (FLOOD,)
    ).fetchall()
    for call_id, number, folded, facts in rows:
        left = json.loads(facts)
        if code not in left or left[code] not in occurrences:
            continue
        del left[code]
        names = [name for name in json.loads(folded) if name != code]
        connection.execute(
            "UPDATE calls_outbox SET folded = ?, facts = ? WHERE id = ?",
            (json.dumps(names), facts_json(tuple(left.items())), call_id),
        )
        if not left:
            connection.execute("UPDATE calls_outbox SET closed_us = ?, closed_why = 'over' WHERE id = ?", (at_us, call_id))
            use_codes(connection, FLOOD, number, at_us)


def use_codes(connection: sqlite3.Connection, code: str, occurrence: int, at_us: int) -> None:
    """No code of this occurrence answers anything any more."""
    connection.execute(
        "UPDATE codes SET used_us = ? WHERE used_us IS NULL AND call_id IN "
        "(SELECT id FROM calls_outbox WHERE code = ? AND occurrence = ?)",
        (at_us, code, occurrence),
    )


def _put(connection: sqlite3.Connection, call: Call) -> None:
    """One call, once: the same key again changes nothing."""
    at_us = to_us(call.at.utc)
    put = connection.execute(
        "INSERT OR IGNORE INTO calls_outbox (key, at_us, code, occurrence, priority, change, first_out, folded, why, facts) "
        "VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
        (
            *(call.key, at_us, call.code, call.occurrence, int(call.priority), call.change),
            *(call.first_out or "", json.dumps(call.folded), "" if call.why is None else call.why.code),
            facts_json(call.facts if call.why is None else (*call.why.facts, *call.facts)),
        ),
    )
    if put.rowcount == 1:
        connection.execute(
            "UPDATE calls_outbox SET closed_us = ?, closed_why = ? "
            "WHERE code = ? AND occurrence = ? AND id < last_insert_rowid() AND closed_us IS NULL",
            (at_us, SUPERSEDED, call.code, call.occurrence),
        )
        _out_of_floods(connection, call.code, (call.occurrence,), at_us)
