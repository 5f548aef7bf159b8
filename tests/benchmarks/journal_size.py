"""How large a year of the journal is at default rates: `python -m tests.benchmarks.journal_size [days]`.

Method. Some days (default 2) of a pool with a cell and an acid pump go through the real journal as the daemon gives them: flow,
pump and two feedbacks on change and each 3 s, ORP and pH each 10 s, temperature, level and salt each minute, node status each
5 s, every message a step of its own and a step each second beside; twelve figures of the estimate and one telemetry point of 25
fields each minute, the cell feeding ten minutes in twenty for twelve hours, twenty acid pulses, renewals each 5 s, a trip a day.
Every analogue value and moment is a fresh double of full precision: the worst case for size. Then the bytes of each table beyond
those of an empty journal (pages, by SQLite's `dbstat`) per simulated day times the days that it is kept in the first year are
summed. Full inputs: 7 days and 60 windows of two hours. Telemetry: a day, and beside it a month with the server away. Not in the
sum: the write-ahead log (at most 8 MB at rest) and the 16 MB reserve.
"""

import random
import sqlite3
import sys
import tempfile
import time
from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

from dosectl.model.feeds import FeedCommand, FeederId, FeedOff, FeedOn
from dosectl.model.instant import Instant
from dosectl.model.ledger import Debit, FeederLedger, Ledger
from dosectl.model.reasons import Code, Event, Reason
from dosectl.model.signals import Health, NodeId, NodeReport, Reading, Sample, SignalId, Status
from dosectl.model.snapshot import Snapshot
from dosectl.model.telemetry import TelemetryPoint
from dosectl.store.entry import FeederDecision, JournalEntry, Outcome
from dosectl.store.journal import Journal

START = datetime(2026, 6, 1, tzinfo=UTC)
CELL, ACID = FeederId("cell"), FeederId("acid")
DAY_S = 86_400
CHECKPOINT_BYTES = 160_000  # packed, a fortnight of the estimate's hours is 141 kB of it
YEAR_DAYS = 365.0
KEPT_DAYS = {
    "raw": 14.0 + 60 * 2 / 24,
    "raw of figures": 14.0,
    "captures": 7.0 + 60 * 2 / 24,
    "checkpoints": 7.0 + 60 * 2 / 24,
    "telemetry": 1.0,
}
"""Days of each table in a year's journal; all others: the year. Minutes are split by hand below."""
FIGURES = 12
FIGURE_MINUTES_DAYS = 60.0
AWAY_DAYS = 30.0
LIMIT_MB = 500.0


class Day:
    """Makes the entries of one second after another."""

    def __init__(self) -> None:
        self.chance = random.Random(7)
        self.ledger = Ledger((FeederLedger(CELL), FeederLedger(ACID)))
        self.on: dict[FeederId, int] = {}
        self.command_no = 0
        self.step_no = 0

    def entries(self, second: int) -> Iterator[tuple[JournalEntry, bool]]:
        """The steps of one second: one a message, then the tick. Says whether the entry is urgent."""
        messages = self._messages(second)
        for place, message in enumerate(messages):
            now = self._instant(second, (place + 1) / (len(messages) + 2))
            if isinstance(message, str):
                node = NodeReport(NodeId("plant"), "b7", second * 1000 + place, "ident", False, now)
                yield self._entry(second, now, Snapshot(self.step_no, now, (), self._health(), nodes=(node,))), False
                continue
            sample = Sample(SignalId(message[0]), message[1], now, None, second)
            seen = self._instant(second, (place + 1.2) / (len(messages) + 2))
            clock_s = 5000.0 + second
            reading = Reading(sample.signal, Status.GOOD, sample.raw, sample.raw, 0.1, clock_s - self.chance.random() / 10)
            yield (
                replace(self._entry(second, seen, Snapshot(self.step_no, seen, (sample,), self._health())), readings=(reading,)),
                False,
            )
        yield self._tick(second)

    def _instant(self, second: int, part: float) -> Instant:
        exact = part + self.chance.random() / 100
        return Instant(1000.0 + second + exact, START + timedelta(seconds=second, microseconds=round(exact * 1e6)), "boot-1")

    def _health(self) -> Health:
        return Health(True, 10**9, True, self.chance.random(), True, queue_age_s=self.chance.random() / 100)

    def _entry(self, second: int, now: Instant, snapshot: Snapshot) -> JournalEntry:
        self.step_no += 1
        return JournalEntry(
            step_no=self.step_no,
            at_utc=now.utc,
            clock_s=5000.0 + second,
            snapshot=snapshot,
            ledger=self.ledger,
            commands=self._commands(second, now),
            decisions=self._decisions(second, now),
            plan_digest="0123456789abcdef",
        )

    def _tick(self, second: int) -> tuple[JournalEntry, bool]:
        in_day = second % DAY_S
        urgent = self._feed(second, in_day, 5000.0 + second)
        now = self._instant(second, 0.98)
        each_minute, trip = second % 60 == 0, in_day == 50_000
        base = self._entry(second, now, Snapshot(self.step_no, now, (), self._health()))
        return replace(
            base,
            parts=(("estimate", b"x" * 900),) if each_minute else (),
            events=(Event(Code("flow.lost"), now, (("flow_l_min", 0.1),)),) if trip else (),
            figures=tuple((f"figure_{n}", self.chance.random() * 10) for n in range(FIGURES)) if each_minute else (),
            telemetry=(self._telemetry(now),) if each_minute else (),
            checkpoint=self.chance.randbytes(CHECKPOINT_BYTES) if second % 3600 == 0 else None,
            keep="flow.lost" if trip else "",
        ), urgent or trip

    def _feed(self, second: int, in_day: int, clock_s: float) -> bool:
        daytime = 8 * 3600 <= in_day < 20 * 3600
        wanted = {CELL: daytime and second % 1200 < 600, ACID: daytime and second % 2160 >= 2100}
        changed = False
        for feeder, want in wanted.items():
            entry = self.ledger.of(feeder)
            spent = entry.open is not None and second - self.on[feeder] >= 300
            if entry.open is not None and (not want or spent):
                self.ledger = self.ledger.with_feeder(entry.closed(clock_s, entry.open.used_g))
                changed = True
            if want and self.ledger.of(feeder).open is None:
                debit = Debit(self.ledger.next_no, feeder, clock_s, clock_s, 12.5)
                self.ledger = replace(self.ledger.with_feeder(self.ledger.of(feeder).with_open(debit)), next_no=debit.no + 1)
                self.on[feeder] = second
                changed = True
            held = self.ledger.of(feeder)
            if held.open is not None and second % 5 == 0:
                self.ledger = self.ledger.with_feeder(held.drawn((second - self.on[feeder]) * 0.04, clock_s))
        return changed

    def _messages(self, second: int) -> list[tuple[str, float | bool] | str]:
        found: list[tuple[str, float | bool] | str] = []
        if second % 3 == 0:
            running = {feeder: self.ledger.of(feeder).open is not None for feeder in (CELL, ACID)}
            found += [("flow", True), ("pump", True), ("cell_feedback", running[CELL]), ("acid_feedback", running[ACID])]
        if second % 10 == 0:
            found += [("orp", 700 + self.chance.gauss(0, 3)), ("ph", 7.3 + self.chance.gauss(0, 0.02))]
        if second % 60 == 0:
            found += [("water_temp", 26 + self.chance.gauss(0, 0.1)), ("acid_level", 60 + self.chance.gauss(0, 1))]
            found += [("salt", 4 + self.chance.gauss(0, 0.01))]
        if second % 5 == 0:
            found.append("node")
        return found

    def _commands(self, second: int, now: Instant) -> tuple[FeedCommand, ...]:
        made: list[FeedCommand] = []
        for feeder in (CELL, ACID):
            self.command_no += 1
            held = self.ledger.of(feeder).open
            if held is None:
                made.append(FeedOff(feeder, self.command_no, Reason(Code("control.resting"), (("fc_mg_l", 3.1),), now)))
            elif second % 5 == 0:
                made.append(FeedOn(feeder, self.command_no, 1.0, 10.0, held.no))
        return tuple(made)

    def _decisions(self, second: int, now: Instant) -> tuple[FeederDecision, ...]:
        made = []
        for feeder in (CELL, ACID):
            feeding = self.ledger.of(feeder).open is not None
            why = Reason(
                Code("control.in_band"), (("free_chlorine_mg_l", 3.1234567), ("target_mg_l", 3.75), ("second", second)), now
            )
            made.append(FeederDecision(feeder, Outcome.FEEDING if feeding else Outcome.RESTING, (why,)))
        return tuple(made)

    def _telemetry(self, now: Instant) -> TelemetryPoint:
        fields = tuple((f"some_quantity_{n}_mg_l", self.chance.random() * 10) for n in range(25))
        return TelemetryPoint("pool", (("pool", "garden"),), fields, now.utc)


def table_bytes(path: Path) -> dict[str, int]:
    """Bytes of pages by table, its indexes counted with it."""
    with sqlite3.connect(path) as connection:
        owners = dict(connection.execute("SELECT name, tbl_name FROM sqlite_master").fetchall())
        found: dict[str, int] = {}
        for name, size in connection.execute("SELECT name, sum(pgsize) FROM dbstat GROUP BY name"):
            owner = str(owners.get(name, "schema"))
            found[owner] = found.get(owner, 0) + size
    return found


def figure_share(path: Path) -> float:
    """Share of the minute rows that belong to figures."""
    with sqlite3.connect(path) as connection:
        share = connection.execute("SELECT avg(figure) FROM minutes JOIN signals ON signals.id = minutes.key % 1024").fetchone()[
            0
        ]
    return float(share)


@dataclass(frozen=True)
class Projection:
    """kept_mb : (table, kB a day, days kept, MB in a year); away_mb : what a month without the server adds."""

    steps: int
    took_s: float
    file_mb: float
    kept_mb: tuple[tuple[str, float, float, float], ...]
    away_mb: float

    @property
    def year_mb(self) -> float:
        return sum(row[3] for row in self.kept_mb)


def projected(days: float, folder: Path, first_second: int = 0) -> Projection:
    """Writes `days` into a journal in `folder` and sums up a year."""
    path = folder / "pool.journal"
    journal = Journal.open(path)
    journal.reserve.give()
    empty = table_bytes(path)
    maker = Day()
    began = time.perf_counter()
    for second in range(first_second, first_second + int(days * DAY_S)):
        for entry, urgent in maker.entries(second):
            journal.commit(entry, durable_now=urgent)
    journal.flush()
    took_s = time.perf_counter() - began
    journal.close()
    sizes = {table: size - empty.get(table, 0) for table, size in table_bytes(path).items()}
    figures = figure_share(path)
    rows = []
    for table, size in sorted(sizes.items(), key=lambda item: -item[1]):
        kept = KEPT_DAYS.get(table, YEAR_DAYS)
        if table == "minutes":
            kept = YEAR_DAYS * (1 - figures) + FIGURE_MINUTES_DAYS * figures
        rows.append((table, size / days / 1e3, kept, size / days * kept / 1e6))
    away_mb = sizes["telemetry"] / days * AWAY_DAYS / 1e6
    return Projection(maker.step_no, took_s, path.stat().st_size / 1e6, tuple(rows), away_mb)


def main() -> int:
    days = float(sys.argv[1]) if len(sys.argv) > 1 else 2.0
    with tempfile.TemporaryDirectory() as folder:
        found = projected(days, Path(folder))
    print(f"{days:g} days, {found.steps} steps: {found.took_s:.1f} s, {found.took_s / found.steps * 1e6:.0f} us a step")
    print(f"file after them {found.file_mb:.1f} MB")
    for table, kb_a_day, kept_days, year_mb in found.kept_mb:
        if kb_a_day:
            print(f"  {table:12} {kb_a_day:9.1f} kB/day x {kept_days:5.0f} days = {year_mb:7.1f} MB")
    print(f"  a month without the time-series server adds {found.away_mb:.1f} MB")
    print(f"a year: {found.year_mb:.0f} MB, with that month {found.year_mb + found.away_mb:.0f} MB (limit {LIMIT_MB:.0f} MB)")
    return 0 if found.year_mb + found.away_mb < LIMIT_MB else 1


if __name__ == "__main__":
    raise SystemExit(main())
