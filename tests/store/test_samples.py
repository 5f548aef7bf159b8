"""Readings: every change kept, repeats thinned, minutes with mean, lowest, highest and count."""

import sqlite3
from datetime import timedelta
from pathlib import Path

import pytest

from dosectl.model.signals import Status
from dosectl.store.journal import Journal
from dosectl.store.read import Record
from dosectl.store.samples import joined
from tests.store.entries import START, entry, reading


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "pool.journal"


def raw(path: Path, name: str) -> list[tuple[int, float]]:
    with sqlite3.connect(path) as connection:
        return connection.execute(
            "SELECT key / 1024 - ?, value FROM raw WHERE key % 1024 = (SELECT id FROM signals WHERE name = ?) ORDER BY key",
            (int(START.timestamp() * 1000), name),
        ).fetchall()


def minutes(path: Path) -> list[tuple[float, ...]]:
    with sqlite3.connect(path) as connection:
        return connection.execute(
            "SELECT mean, coalesce(low, mean), coalesce(high, mean), n FROM minutes ORDER BY key"
        ).fetchall()


def test_a_switch_that_repeats_itself_makes_one_row_a_minute_and_each_edge_its_own(path: Path) -> None:
    journal = Journal.open(path)
    for step in range(100):
        after_s = step * 3.0
        journal.commit(entry(step, after_s, readings=(reading("flow", step != 50, after_s),)), durable_now=False)
    journal.flush()
    assert raw(path, "flow") == [
        (0, 1.0), (60_000, 1.0), (120_000, 1.0), (150_000, 0.0), (153_000, 1.0), (213_000, 1.0), (273_000, 1.0),
    ]  # fmt: skip
    assert minutes(path)[2] == (pytest.approx(0.95), 0.0, 1.0, 20)
    journal.close()


def test_two_edges_in_one_millisecond_are_both_kept(path: Path) -> None:
    journal = Journal.open(path)
    journal.commit(entry(1, readings=(reading("flow", True, 1.0), reading("flow", False, 1.0))), durable_now=True)
    assert raw(path, "flow") == [(1000, 1.0), (1001, 0.0)]
    journal.close()


def test_a_value_is_stored_at_the_time_its_message_came_not_at_the_steps(path: Path) -> None:
    journal = Journal.open(path)
    journal.commit(entry(10, readings=(reading("ph", 7.1, 9.25),)), durable_now=True)
    assert raw(path, "ph") == [(9250, 7.1)]
    journal.close()


def test_no_value_is_ever_made_of_a_reading_that_is_not_good(path: Path) -> None:
    journal = Journal.open(path)
    for step, status in enumerate((Status.UNKNOWN, Status.FAILURE, Status.FAILURE, Status.GOOD)):
        value = 7.2 if status is Status.GOOD else None
        journal.commit(entry(step, readings=(reading("ph", value, step, status),)), durable_now=True)
    with sqlite3.connect(path) as connection:
        assert connection.execute("SELECT status FROM statuses ORDER BY id").fetchall() == [(5,), (4,), (0,)]
    assert [value for _, value in raw(path, "ph")] == [7.2]
    assert minutes(path) == [(7.2, 7.2, 7.2, 1)]
    journal.close()


def test_a_restart_within_a_minute_goes_on_with_its_roll_up(path: Path) -> None:
    for run in range(2):
        journal = Journal.open(path)
        for step in range(2):
            after_s = run * 20 + step * 10.0
            journal.commit(entry(step, after_s, readings=(reading("orp", 700.0 + after_s, after_s),)), durable_now=True)
        journal.close()
    assert minutes(path) == [(715.0, 700.0, 730.0, 4)]


def test_a_wall_clock_set_back_adds_to_the_minutes_it_meets_again(path: Path) -> None:
    journal = Journal.open(path)
    for after_s in (0.0, 70.0, 130.0, 5.0, 75.0):
        journal.commit(entry(1, after_s, readings=(reading("orp", 700.0 + after_s, after_s),)), durable_now=True)
    assert [row[3] for row in minutes(path)] == [2, 2, 1]
    journal.close()


def test_figures_of_the_estimate_are_kept_like_readings_and_told_apart(path: Path) -> None:
    journal = Journal.open(path)
    journal.commit(entry(1, figures=(("free_chlorine_mg_l", 3.1), ("demand_mg_l_day", float("nan")))), durable_now=True)
    journal.close()
    with Record(path) as record:
        assert record.signals() == ("free_chlorine_mg_l",) or record.signals() == ("free_chlorine_mg_l", "demand_mg_l_day")
        points = record.series("free_chlorine_mg_l", START, START + timedelta(hours=1), 1.0)
        assert [(point.at, point.mean) for point in points] == [(START + timedelta(seconds=1), 3.1)]


def test_joining_weighs_by_count() -> None:
    assert joined([(1.0, None, None, 1), (4.0, 2.0, 9.0, 2)]) == (3.0, 1.0, 9.0, 3)
    assert joined([(0.1, None, None, 3), (0.1, None, None, 7)]) == (0.1, None, None, 10)
    with pytest.raises(ValueError, match="no rows"):
        joined([])
