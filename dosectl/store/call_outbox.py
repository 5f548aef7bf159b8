"""The journal's side of calling people: what waits, what was tried, what answers it. A connection of its own.

A try is on the disk before it is made, and its end after: a crash between the two makes the try again, never lost.
"""

import json
import sqlite3
from collections.abc import Iterable, Mapping
from datetime import datetime
from pathlib import Path
from types import TracebackType
from typing import Any, Self

from dosectl.model.call_log import Attempt, ClosedCall, CodeFound, OpenCall, Outcome
from dosectl.model.calls import FLOOD
from dosectl.model.reasons import Facts
from dosectl.store.connect import transaction, writer
from dosectl.store.faults import translated
from dosectl.store.instants import from_us, to_us
from dosectl.store.rows import facts_json, storable

_CALL = (
    "id, key, at_us, code, occurrence, priority, change, first_out, folded, why, facts, answered_us, answered_by, cleared_us "
    "FROM calls_outbox"
)


class CallOutbox:
    """Belongs to one thread at a time. Errors are the journal's: JournalFull, JournalFailed, JournalDamaged."""

    def __init__(self, path: Path) -> None:
        """path : of a journal that exists."""
        self._path = path
        try:
            # FULL: an attempt or a used code that the power takes away would call or answer twice.
            self._connection = writer(path, full=True)
        except sqlite3.Error as error:
            raise translated(error, path, "opening the calls") from error

    def __enter__(self) -> Self:
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None) -> None:
        self.close()

    def close(self) -> None:
        """Closes the connection."""
        self._connection.close()

    def open_calls(self) -> tuple[OpenCall, ...]:
        """Calls under way, the gravest first, of the same priority the newest first."""
        rows = self._all(f"SELECT {_CALL} WHERE closed_us IS NULL ORDER BY priority DESC, at_us DESC, id DESC")
        return tuple(_call(row) for row in rows)

    def newest(self, change: str) -> tuple[datetime, datetime | None] | None:
        """When the newest call of a kind was made and answered; None where there never was one."""
        rows = self._all("SELECT at_us, answered_us FROM calls_outbox WHERE change = ? ORDER BY id DESC LIMIT 1", (change,))
        return (from_us(rows[0][0]), _moment(rows[0][1])) if rows else None

    def closed_calls(self, since: datetime) -> tuple[ClosedCall, ...]:
        """Calls that ended since a moment, in order."""
        rows = self._all(
            "SELECT key, at_us, code, occurrence, priority, answered_us, answered_by, closed_us, closed_why FROM calls_outbox "
            "WHERE closed_us >= ? ORDER BY closed_us, id",
            (to_us(since),),
        )
        return tuple(ClosedCall(r[0], from_us(r[1]), r[2], r[3], r[4], _moment(r[5]), r[6], from_us(r[7]), r[8]) for r in rows)

    def attempts(self, since: datetime) -> tuple[Attempt, ...]:
        """Attempts of open calls, and all that began since a moment, in order."""
        rows = self._all(
            "SELECT call_id, step, person, route, message, begun_us, ended_us, outcome FROM call_attempts WHERE begun_us >= ? "
            "OR call_id IN (SELECT id FROM calls_outbox WHERE closed_us IS NULL) ORDER BY id",
            (to_us(since),),
        )
        return tuple(Attempt(r[0], r[1], r[2], r[3], r[4], from_us(r[5]), _moment(r[6]), Outcome(r[7])) for r in rows)

    def put(self, key: str, at: datetime, code: str, occurrence: int, priority: int, change: str, facts: Facts) -> bool:
        """A message that no alarm makes: a test of the chain, a line of the day. False where the key was there already."""
        with transaction(self._connection, self._path, "putting a message out"):
            done = self._connection.execute(
                "INSERT OR IGNORE INTO calls_outbox "
                "(key, at_us, code, occurrence, priority, change, first_out, folded, why, facts) "
                "VALUES (?, ?, ?, ?, ?, ?, '', '[]', '', ?)",
                (key, to_us(at), code, occurrence, priority, change, facts_json(facts)),
            )
            return done.rowcount == 1

    def begin(self, steps: Iterable[tuple[int, int]], person: str, route: str, message: str, at: datetime) -> None:
        """Attempts at (call, step) in one message, about to be made."""
        with transaction(self._connection, self._path, "recording a try to call"):
            self._connection.executemany(
                "INSERT INTO call_attempts (call_id, step, person, route, message, begun_us, outcome) "
                "VALUES (?, ?, ?, ?, ?, ?, '')",
                [(call_id, step, person, route, message, to_us(at)) for call_id, step in steps],
            )

    def end(self, message: str, outcome: Outcome, at: datetime) -> None:
        """What became of a message; a later word on it stands."""
        with transaction(self._connection, self._path, "recording the end of a try to call"):
            self._connection.execute(
                "UPDATE call_attempts SET ended_us = ?, outcome = ? WHERE message = ?", (to_us(at), outcome.value, message)
            )

    def close_call(self, call_id: int, why: str, at: datetime) -> None:
        """Nothing more is sent of it."""
        with transaction(self._connection, self._path, "closing a call"):
            self._connection.execute(
                "UPDATE calls_outbox SET closed_us = ?, closed_why = ? WHERE id = ? AND closed_us IS NULL",
                (to_us(at), why, call_id),
            )

    def word_for(self, call_id: int, person: str, fresh: str, at: datetime) -> str:
        """The code with which this person answers this call: `fresh` where there is none yet."""
        with transaction(self._connection, self._path, "making a code"):
            self._connection.execute("INSERT OR IGNORE INTO codes VALUES (?, ?, ?, ?, NULL)", (fresh, call_id, person, to_us(at)))
            rows = self._connection.execute(
                "SELECT word FROM codes WHERE call_id = ? AND person = ?", (call_id, person)
            ).fetchall()
        return str(rows[0][0]) if rows else ""

    def find_word(self, word: str) -> CodeFound | None:
        """What a code answers, None where it was never made."""
        rows = self._all(
            "SELECT o.id, o.code, o.occurrence, o.change, c.person, c.used_us, o.folded, o.facts, EXISTS (SELECT 1 FROM "
            "calls_outbox n WHERE n.code = o.code AND n.occurrence = o.occurrence AND n.id > o.id AND n.priority > o.priority) "
            "FROM codes c JOIN calls_outbox o ON o.id = c.call_id WHERE c.word = ?",
            (storable(word),),
        )
        if not rows:
            return None
        call_id, code, occurrence, change, person, used_us, folded, facts, graver = rows[0]
        known = json.loads(facts)
        covers = tuple((name, known[name]) for name in json.loads(folded) if name in known) if code == FLOOD else ()
        return CodeFound(call_id, code, occurrence, change, person, _moment(used_us), covers, bool(graver))

    def note_answer(self, at: datetime, request: str, by: str, code: str, occurrence: int, outcome: str) -> None:
        """Keeps what came as an answer, whatever came of it."""
        with transaction(self._connection, self._path, "recording an answer"):
            self._connection.execute(
                "INSERT INTO call_answers (at_us, request, by, code, occurrence, outcome) VALUES (?, ?, ?, ?, ?, ?)",
                (to_us(at), storable(request)[:80], storable(by)[:80], storable(code)[:80], occurrence, outcome),
            )

    def answers(self, since: datetime) -> tuple[tuple[datetime, str, str, int, str], ...]:
        """(when, by whom, alarm, occurrence, outcome) of what came since a moment, in order."""
        rows = self._all(
            "SELECT at_us, by, code, occurrence, outcome FROM call_answers WHERE at_us >= ? ORDER BY id", (to_us(since),)
        )
        return tuple((from_us(row[0]), row[1], row[2], row[3], row[4]) for row in rows)

    def answer_own(self, call_id: int, by: str, at: datetime) -> None:
        """An answer to a message that no alarm made: the first closes it; the others' codes stay good for them to answer."""
        with transaction(self._connection, self._path, "recording the answer to a test"):
            self._connection.execute(
                "UPDATE calls_outbox SET answered_us = ?, answered_by = ?, closed_us = coalesce(closed_us, ?), "
                "closed_why = CASE closed_why WHEN '' THEN 'answered' ELSE closed_why END WHERE id = ? AND answered_us IS NULL",
                (to_us(at), storable(by)[:80], to_us(at), call_id),
            )
            self._connection.execute(
                "UPDATE codes SET used_us = ? WHERE call_id = ? AND person = ? AND used_us IS NULL", (to_us(at), call_id, by)
            )

    def persons_who_answered(self, since: datetime) -> frozenset[str]:
        """Who has answered anything with a code of their own since a moment."""
        rows = self._all("SELECT DISTINCT by FROM call_answers WHERE at_us >= ? AND outcome = 'taken'", (to_us(since),))
        return frozenset(row[0].partition("/")[0] for row in rows)

    def ways_answered(self, code: str) -> Mapping[str, datetime]:
        """`person/route` of each answer to a test of this code, as `by_way` names it, with the newest moment."""
        rows = self._all("SELECT by, max(at_us) FROM call_answers WHERE code = ? AND outcome = 'taken' GROUP BY by", (code,))
        return {row[0]: from_us(row[1]) for row in rows}

    def _all(self, sql: str, values: tuple[object, ...] = ()) -> list[tuple[Any, ...]]:
        try:
            return self._connection.execute(sql, values).fetchall()
        except sqlite3.Error as error:
            raise translated(error, self._path, "reading the calls") from error


def _moment(at_us: int | None) -> datetime | None:
    return None if at_us is None else from_us(at_us)


def _call(row: tuple[Any, ...]) -> OpenCall:
    return OpenCall(
        *(row[0], row[1], from_us(row[2]), row[3], row[4], row[5], row[6], row[7]),
        folded=tuple(json.loads(row[8])),
        why=row[9],
        facts=tuple(json.loads(row[10]).items()),
        answered=_moment(row[11]),
        answered_by=row[12],
        cleared=_moment(row[13]),
    )
