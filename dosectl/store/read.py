"""Looking at the record, while the daemon writes it or after: read-only, no lock taken."""

import json
import sqlite3
import zlib
from collections import Counter
from collections.abc import Iterator
from datetime import datetime
from pathlib import Path
from types import TracebackType
from typing import Any, Self

from dosectl.model.feeds import FeederId, Substance
from dosectl.model.instant import Instant
from dosectl.model.reasons import Code, Facts, Reason
from dosectl.model.snapshot import Snapshot
from dosectl.model.telemetry import TelemetryPoint
from dosectl.store.capture import decode
from dosectl.store.entry import Outcome
from dosectl.store.faults import translated
from dosectl.store.instants import from_ms, from_us, to_ms, to_us
from dosectl.store.opening import checked
from dosectl.store.outbox import point
from dosectl.store.samples import MINUTE_MS, SIGNALS_MAX, RollUp, joined
from dosectl.store.views import (
    AlarmLine,
    CommandLine,
    DaySummary,
    Decided,
    EventLine,
    Extremes,
    Fed,
    FeedLine,
    Point,
    ReplyLine,
    RequestLine,
    Trips,
)

HOUR_MS = 60 * MINUTE_MS


class Record:
    """Queries over one journal. Times are aware UTC; a range holds its start and not its end."""

    def __init__(self, path: Path) -> None:
        """Raises JournalDamaged, JournalNewer or JournalFailed where the file can't be read."""
        self._path = path
        self._connection = checked(path, readonly=True)

    def __enter__(self) -> Self:
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None) -> None:
        self.close()

    def close(self) -> None:
        """Closes the file."""
        self._connection.close()

    def why(self, at: datetime) -> tuple[Decided, ...]:
        """For each feeder the decision that held at a moment, with its reasons; none before its first decision."""
        found = []
        for (feeder,) in self._all("SELECT DISTINCT feeder FROM decisions ORDER BY feeder"):
            newest = self._all(
                "SELECT at_us, outcome, reasons FROM decisions WHERE feeder = ? AND at_us <= ? "
                "ORDER BY at_us DESC, id DESC LIMIT 1",
                (feeder, to_us(at)),
            )
            began = self._all(
                "SELECT max(at_us) FROM decisions WHERE feeder = ? AND at_us <= ? AND NOT again", (feeder, to_us(at))
            )
            if newest:
                at_us, outcome, reasons = newest[0]
                since = at_us if began[0][0] is None else began[0][0]
                found.append(Decided(FeederId(feeder), Outcome(outcome), reasons_of(reasons), from_us(since), from_us(at_us)))
        return tuple(found)

    def fed(self, start: datetime, end: datetime) -> tuple[Fed, ...]:
        """What each feeder was booked, by the time its reservation was opened."""
        rows = self._all(
            "SELECT feeder, coalesce(sum(fed_g), 0), coalesce(sum(reserved_g) FILTER (WHERE closed_s IS NULL), 0), count(*) "
            "FROM ledger WHERE opened_us >= ? AND opened_us < ? GROUP BY feeder ORDER BY min(id)",
            (to_us(start), to_us(end)),
        )
        return tuple(Fed(FeederId(row[0]), row[1], row[2], row[3]) for row in rows)

    def events(self, start: datetime, end: datetime) -> tuple[EventLine, ...]:
        """Events in order."""
        rows = self._range("SELECT at_us, code, facts FROM events WHERE at_us >= ? AND at_us < ? ORDER BY at_us, id", start, end)
        return tuple(EventLine(from_us(row[0]), Code(row[1]), facts_of(row[2])) for row in rows)

    def trips(self, since: datetime) -> dict[Code, Trips]:
        """For each guard that ever denied: when last and why, when that ended last, and how often since a moment."""
        rows = self._all(
            "SELECT json_extract(facts, '$.guard') AS guard, json_extract(facts, '$.why'), max(at_us), "
            "count(DISTINCT at_us) FILTER (WHERE at_us >= ?) FROM events WHERE code = 'guard.trip' GROUP BY guard",
            (to_us(since),),
        )
        ends = dict(
            self._all(
                "SELECT json_extract(facts, '$.guard') AS guard, max(at_us) FROM events WHERE code = 'guard.clear' GROUP BY guard"
            )
        )
        return {
            Code(guard): Trips(
                Code(guard), from_us(at_us), Code(str(why)), count, None if guard not in ends else from_us(ends[guard])
            )
            for guard, why, at_us, count in rows
        }

    def alarms(self, start: datetime, end: datetime) -> tuple[AlarmLine, ...]:
        """Changes of alarms in order."""
        rows = self._range(
            "SELECT at_us, code, occurrence, change, priority, present, acked, latched, facts FROM alarms "
            "WHERE at_us >= ? AND at_us < ? ORDER BY at_us, id", start, end,
        )  # fmt: skip
        return tuple(
            AlarmLine(
                from_us(row[0]), Code(row[1]), row[2], row[3], row[4], bool(row[5]), bool(row[6]), bool(row[7]), facts_of(row[8])
            )
            for row in rows
        )

    def commands(self, start: datetime, end: datetime) -> tuple[CommandLine, ...]:
        """Starts and stops in order; renewals are only counted."""
        rows = self._range(
            "SELECT at_us, feeder, level, debit_no, renewed, code, facts FROM commands "
            "WHERE at_us >= ? AND at_us < ? ORDER BY at_us, id",
            start, end,
        )  # fmt: skip
        return tuple(
            CommandLine(from_us(row[0]), FeederId(row[1]), row[2], row[3], row[4], Code(row[5]), facts_of(row[6])) for row in rows
        )

    def feeds(self, start: datetime, end: datetime) -> tuple[FeedLine, ...]:
        """Reservations that were opened in the range, in order."""
        rows = self._range(
            "SELECT opened_us, feeder, substance, coalesce(closed_s, last_s) - opened_s, coalesce(fed_g, reserved_g) FROM ledger "
            "WHERE opened_us >= ? AND opened_us < ? ORDER BY opened_us, id", start, end,
        )  # fmt: skip
        return tuple(
            FeedLine(from_us(row[0]), FeederId(row[1]), None if row[2] is None else Substance(row[2]), max(0.0, row[3]), row[4])
            for row in rows
        )

    def requests(self, start: datetime, end: datetime) -> tuple[RequestLine, ...]:
        """What people asked for and was granted, in order."""
        rows = self._range(
            "SELECT requests.at_us, request, kind, arguments, place, facts FROM requests JOIN replies USING (request) "
            "WHERE requests.at_us >= ? AND requests.at_us < ? AND done ORDER BY requests.at_us, requests.rowid", start, end,
        )  # fmt: skip
        return tuple(
            RequestLine(from_us(row[0]), row[1], Code(row[2]), facts_of(row[3]), row[4], facts_of(row[5])) for row in rows
        )

    def replies(self, start: datetime, end: datetime) -> tuple[ReplyLine, ...]:
        """Replies to people in order."""
        rows = self._range(
            "SELECT at_us, request, done, code, facts, words FROM replies WHERE at_us >= ? AND at_us < ? ORDER BY at_us",
            start,
            end,
        )
        return tuple(ReplyLine(from_us(row[0]), row[1], bool(row[2]), Code(row[3]), facts_of(row[4]), row[5]) for row in rows)

    def signals(self) -> tuple[str, ...]:
        """Names of all signals and figures that the record has."""
        return tuple(row[0] for row in self._all("SELECT name FROM signals ORDER BY id"))

    def extremes(self, start: datetime, end: datetime) -> tuple[Extremes, ...]:
        """Mean, lowest and highest of each signal, from the minutes within the range."""
        span = (minute_key(start), minute_key(end))
        rows = self._all(
            f"SELECT name, sum(mean * n) / sum(n), min(coalesce(low, mean)), max(coalesce(high, mean)), sum(n) FROM minutes "
            f"JOIN signals ON signals.id = minutes.key % {SIGNALS_MAX} WHERE key >= ? AND key < ? "
            "GROUP BY signals.id ORDER BY signals.id",
            span,
        )
        return tuple(Extremes(*row) for row in rows)

    def series(self, signal: str, start: datetime, end: datetime, step_s: float) -> tuple[Point, ...]:
        """One signal each `step_s`: raw rows below a minute, minutes below an hour, else hours; coarser where finer is gone."""
        number = self._all("SELECT id FROM signals WHERE name = ?", (signal,))
        if not number:
            return ()
        step_ms = max(round(step_s * 1000), 1)
        for table, unit_ms in (("raw", 1), ("minutes", MINUTE_MS), ("hours", HOUR_MS)):
            finer = {"raw": MINUTE_MS, "minutes": HOUR_MS}.get(table)
            if finer is not None and step_ms >= finer:
                continue
            points = self._stepped(table, unit_ms, number[0][0], start, end, step_ms)
            if points or table == "hours":
                return points
        return ()

    def _stepped(self, table: str, unit_ms: int, signal: int, start: datetime, end: datetime, step_ms: int) -> tuple[Point, ...]:
        columns = "value, NULL, NULL, 1" if table == "raw" else "mean, low, high, n"
        first_ms, last_ms = to_ms(start), to_ms(end)
        rows = self._all(
            f"SELECT key / {SIGNALS_MAX}, {columns} FROM {table} "
            f"WHERE key >= ? AND key < ? AND key % {SIGNALS_MAX} = ? ORDER BY key",
            (-(-first_ms // unit_ms) * SIGNALS_MAX, -(-last_ms // unit_ms) * SIGNALS_MAX, signal),
        )
        steps: dict[int, list[RollUp]] = {}
        for at, *row in rows:
            steps.setdefault((at * unit_ms - first_ms) // step_ms, []).append((row[0], row[1], row[2], row[3]))
        found = []
        for step, rolled in steps.items():
            mean, low, high, n = joined(rolled)
            found.append(
                Point(from_ms(first_ms + step * step_ms), mean, mean if low is None else low, mean if high is None else high, n)
            )
        return tuple(found)

    def telemetry(self, start: datetime, end: datetime) -> Iterator[TelemetryPoint]:
        """Points still in the record, in order."""
        for row in self._range(
            "SELECT at_us, measurement, tags, fields FROM telemetry WHERE at_us >= ? AND at_us < ? ORDER BY id", start, end
        ):
            yield point(row)

    def snapshots(self, start: datetime, end: datetime) -> Iterator[Snapshot]:
        """Full inputs of the steps in the range, in the order consumed; gaps where they are no longer kept."""
        span = (to_ms(start), to_ms(end))
        for (body,) in self._all("SELECT body FROM captures WHERE to_ms >= ? AND from_ms < ? ORDER BY id", span):
            for snapshot in decode(body):
                if start <= snapshot.now.utc < end:
                    yield snapshot

    def checkpoint(self, before: datetime) -> tuple[datetime, int, bytes] | None:
        """The newest whole state at or before a moment, with its time and step: where a replay begins."""
        rows = self._all(
            "SELECT at_ms, step_no, body FROM checkpoints WHERE at_ms <= ? ORDER BY at_ms DESC LIMIT 1", (to_ms(before),)
        )
        return (from_ms(rows[0][0]), rows[0][1], zlib.decompress(rows[0][2])) if rows else None

    def lost(self) -> dict[str, int]:
        """Rows that the record had to give up, by table: a full disk, or a time-series server away for too long."""
        return dict(self._all("SELECT what, rows FROM lost"))

    def day(self, start: datetime, end: datetime) -> DaySummary:
        """Fed, trips and alarms raised, extremes, and what was withheld and why."""
        held: Counter[tuple[FeederId, Code]] = Counter()
        for feeder, reasons in self._range(
            "SELECT feeder, reasons FROM decisions WHERE at_us >= ? AND at_us < ? AND outcome = 'withheld' AND NOT again",
            start,
            end,
        ):
            found = reasons_of(reasons)
            held[(FeederId(feeder), found[0].code if found else Code(""))] += 1
        raised = tuple(line for line in self.alarms(start, end) if line.change == "raised")
        withheld = tuple((feeder, code, times) for (feeder, code), times in held.most_common())
        return DaySummary(start, end, self.fed(start, end), raised, self.extremes(start, end), withheld)

    def _range(self, sql: str, start: datetime, end: datetime) -> list[tuple[Any, ...]]:
        return self._all(sql, (to_us(start), to_us(end)))

    def _all(self, sql: str, values: tuple[object, ...] = ()) -> list[tuple[Any, ...]]:
        try:
            return self._connection.execute(sql, values).fetchall()
        except sqlite3.Error as error:
            raise translated(error, self._path, "reading the record") from error


def minute_key(moment: datetime) -> int:
    """Smallest key of the minute roll-ups at or after a moment."""
    return -(-to_ms(moment) // MINUTE_MS) * SIGNALS_MAX


def facts_of(body: str) -> Facts:
    """Facts as they were written."""
    return tuple(json.loads(body).items())


def reasons_of(body: str) -> tuple[Reason, ...]:
    """Reasons as they were written; of their `since` only UTC is kept."""
    return tuple(
        Reason(Code(code), tuple(facts.items()), Instant(0.0, from_us(since_us), "record"))
        for code, facts, since_us in json.loads(body)
    )
