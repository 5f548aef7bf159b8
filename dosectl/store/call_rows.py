"""Calls beside the alarm changes they tell of: rows of the outbox, inside the step's own transaction."""

import json
import sqlite3

from dosectl.model.calls import FLOOD, Call
from dosectl.store.entry import JournalEntry
from dosectl.store.instants import to_us
from dosectl.store.rows import facts_json

ANSWERED = "answered"
CLEARED = "cleared"
SUPERSEDED = "superseded"


def write_calls(connection: sqlite3.Connection, entry: JournalEntry) -> None:
    """The step's calls, and what its alarm changes mean for calls that are under way.

    An answer ends the repeating and uses up every code of the occurrence; a newer call of the same occurrence takes the place of
    the older one. So do a call of a newer occurrence, its answer and its all-clear for older ones that never cleared, as latched
    and worsening alarms leave them: nothing else ends those. Until then they go on, as the newer one may be held back.
    A flood's summary is called until each of its alarms is answered, over or called itself.
    """
    for call in entry.calls:
        _put(connection, call)
    at_us = to_us(entry.at_utc)
    for change in entry.alarms:
        if change.change == ANSWERED:
            connection.execute(
                "UPDATE calls_outbox SET answered_us = ?, answered_by = ? "
                "WHERE code = ? AND occurrence = ? AND answered_us IS NULL AND closed_us IS NULL",
                (at_us, str(dict(change.facts).get("by", "")), change.code, change.occurrence),
            )
            use_codes(connection, change.code, change.occurrence, at_us)
            _replace(connection, change.code, change.occurrence, at_us)
        # A latched alarm is not over when its cause goes: somebody must still say that they know.
        if (change.change == CLEARED and not change.latched) or (change.change == ANSWERED and not change.present):
            connection.execute(
                "UPDATE calls_outbox SET cleared_us = ? WHERE code = ? AND occurrence = ? AND cleared_us IS NULL "
                "AND closed_us IS NULL",
                (at_us, change.code, change.occurrence),
            )
            _replace(connection, change.code, change.occurrence, at_us)


def _replace(connection: sqlite3.Connection, code: str, occurrence: int, at_us: int) -> None:
    """Ends the calling of older occurrences that never cleared, and takes this one and those out of summaries of floods."""
    connection.execute(
        "UPDATE calls_outbox SET closed_us = ?, closed_why = ? "
        "WHERE code = ? AND occurrence < ? AND cleared_us IS NULL AND closed_us IS NULL",
        (at_us, SUPERSEDED, code, occurrence),
    )
    rows = connection.execute(
        "SELECT id, occurrence, folded, facts FROM calls_outbox WHERE code = ? AND closed_us IS NULL", (FLOOD,)
    ).fetchall()
    for call_id, number, folded, facts in rows:
        left = json.loads(facts)
        if code not in left or left[code] > occurrence:
            continue
        del left[code]
        names = [name for name in json.loads(folded) if name != code]
        connection.execute(
            "UPDATE calls_outbox SET folded = ?, facts = ? WHERE id = ?",
            (json.dumps(names), facts_json(tuple(left.items())), call_id),
        )
        if not left:  # it stands for nothing any more
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
        # A summary of a flood has numbers of its own: a newer one says nothing of what an older one stands for.
        if call.code != FLOOD:
            _replace(connection, call.code, call.occurrence, at_us)
