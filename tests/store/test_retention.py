"""Old rows go in small chunks; what is for ever and what lies round a trip stays."""

import sqlite3
from datetime import datetime, timedelta
from pathlib import Path

import pytest

from dosectl.model.telemetry import TelemetryPoint
from dosectl.store import retention
from dosectl.store.journal import Journal
from dosectl.store.outbox import TelemetryOutbox
from dosectl.store.read import Record
from dosectl.store.retention import Horizons, Retention, gaps
from tests.store.entries import CELL, EMPTY, START, closed, entry, event, opened, reading, snapshot

DAY_S = 86_400.0


def at(days: float) -> datetime:
    return START + timedelta(days=days)


def run(path: Path, days: float, *, urgent: bool = False, horizons: Horizons | None = None) -> retention.Kept:
    return Retention(path, horizons, pause=lambda _: None).run(at(days), urgent=urgent)


def count(path: Path, table: str) -> int:
    with sqlite3.connect(path) as connection:
        return int(connection.execute(f"SELECT count(*) FROM {table}").fetchone()[0])


@pytest.fixture
def path(tmp_path: Path) -> Path:
    """Thirty days with a step each 10 minutes, a trip on day 5, a feed a day."""
    path = tmp_path / "pool.journal"
    journal = Journal.open(path)
    ledger = EMPTY
    for step in range(30 * 144):
        after_s = step * 600.0
        trip = step == 5 * 144
        if step % 144 == 0:
            ledger = closed(opened(ledger, CELL, 5000.0 + after_s, 10.0), CELL, 5000.0 + after_s, 8.0)
        journal.commit(
            entry(
                step,
                after_s,
                ledger=ledger,
                snapshot=snapshot(step, after_s, ph=7.0 + step / 10_000),
                readings=(reading("ph", 7.0 + step / 10_000, after_s),),
                figures=(("free_chlorine_mg_l", 3.0),),
                events=(event("trip", after_s),) if trip else (),
                keep="trip" if trip else "",
                checkpoint=b"state" if step % 6 == 0 else None,
                telemetry=(TelemetryPoint("water", (), (("ph", 7.0),), at(step / 144)),),
            ),
            durable_now=False,
        )
    journal.flush()
    journal.close()
    return path


def test_full_inputs_stay_seven_days_and_an_hour_round_a_trip(path: Path) -> None:
    run(path, 30)
    with Record(path) as record:
        seen = [snap.step_no for snap in record.snapshots(at(0), at(31))]
    assert seen[0] >= 5 * 144 - 8
    assert 5 * 144 in seen
    assert not [step for step in seen if 5 * 144 + 8 < step < 23 * 144 - 2]
    assert seen[-(7 * 144) :] == list(range(23 * 144, 30 * 144))


def test_raw_readings_stay_a_fortnight_and_an_hour_round_a_trip_and_roll_ups_stay(path: Path) -> None:
    before = count(path, "minutes")
    run(path, 30)
    with Record(path) as record:
        found = [point.at for point in record.series("ph", at(0), at(31), 1.0)]
        hourly = record.series("ph", at(0), at(31), 3600.0)
    assert min(found) == at(5) - timedelta(hours=1)
    assert not [moment for moment in found if at(5) + timedelta(hours=1) < moment < at(16)]
    assert len(found) == 13 + 14 * 144
    assert count(path, "minutes") == before
    assert len(hourly) == 30 * 24
    assert hourly[0].n == 6


def test_the_ledger_and_the_events_are_never_thrown_away(path: Path) -> None:
    run(path, 30)
    run(path, 4000, urgent=True)
    assert count(path, "ledger") == 30
    assert count(path, "events") == 1
    with Record(path) as record:
        assert record.fed(at(0), at(31))[0].fed_g == 240.0


def test_minutes_go_after_two_years_and_hours_stay(path: Path) -> None:
    run(path, 30)
    hours = count(path, "hours")
    run(path, 800)
    assert count(path, "minutes") == 0
    assert count(path, "hours") == hours
    with Record(path) as record:
        assert len(record.series("ph", at(0), at(31), 60.0)) == 720  # coarser, not gone


def test_hours_are_rolled_up_once_and_only_when_they_are_over(path: Path) -> None:
    assert run(path, 10).hours == 240
    assert run(path, 10).hours == 0
    assert run(path, 10 + 1 / 48).hours == 0
    assert run(path, 11).hours == 24


def test_telemetry_stays_until_it_was_sent_and_never_more_than_ninety_days_unsent(path: Path) -> None:
    run(path, 60)
    assert count(path, "telemetry") == 30 * 144
    with TelemetryOutbox(path) as box:
        box.advance(1000)
    assert run(path, 60).thrown == {"telemetry": 1000}
    run(path, 100)
    with Record(path) as record:
        assert record.lost()["telemetry"] == 10 * 144 - 1000


def test_only_the_newest_windows_stay_and_a_flapping_trip_is_one_window(tmp_path: Path) -> None:
    path = tmp_path / "pool.journal"
    journal = Journal.open(path)
    for step in range(100):
        journal.commit(entry(step, step * 300.0, keep="trip"), durable_now=False)
    journal.flush()
    assert 1 <= count(path, "windows") <= 5
    for step in range(70):
        journal.commit(entry(step, step * DAY_S + 50_000, keep="trip"), durable_now=False)
    journal.flush()
    journal.close()
    run(path, 71)
    assert count(path, "windows") == 60


def test_each_chunk_is_a_short_transaction_of_its_own_so_that_a_commit_gets_in_between(path: Path) -> None:
    journal = Journal.open(path)
    journal._full.execute("PRAGMA busy_timeout = 0")
    turns: list[int] = []

    def pause(_: float) -> None:
        turns.append(len(turns))
        journal.commit(entry(len(turns), 30 * DAY_S + len(turns), events=(event("between"),)), durable_now=True)

    kept = Retention(path, pause=pause).run(at(30))
    assert max(kept.thrown.values()) > retention.CHUNK_ROWS
    assert len(turns) >= max(kept.thrown.values()) // retention.CHUNK_ROWS
    assert journal.ok
    journal.close()


def test_an_urgent_run_gives_room_back_to_the_disk_and_takes_the_reserve_again(path: Path) -> None:
    journal = Journal.open(path)
    journal.reserve.give()
    assert journal.needs_room
    size = path.stat().st_size
    kept = run(path, 30, urgent=True)
    assert kept.freed_bytes > size / 4
    with sqlite3.connect(path) as connection:
        assert connection.execute("PRAGMA freelist_count").fetchone() == (0,)
    assert path.stat().st_size == size - kept.freed_bytes
    assert not journal.needs_room
    journal.close()


def test_gaps_between_windows() -> None:
    assert list(gaps([], 10)) == [(0, 10)]
    assert list(gaps([(4, 6), (2, 4), (20, 30)], 10)) == [(0, 2), (7, 10)]
    assert list(gaps([(0, 100)], 10)) == []
    assert list(gaps([(8, 12)], 10)) == [(0, 8)]
