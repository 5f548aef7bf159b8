"""Inputs as rows: on the disk with each commit, one row a minute in the end, in the order consumed."""

import sqlite3
from contextlib import nullcontext
from datetime import timedelta
from pathlib import Path

import pytest

from dosectl.store.faults import JournalFailed
from dosectl.store.journal import Journal
from dosectl.store.read import Record
from tests.store.entries import START, entry, snapshot


def count(path: Path) -> int:
    with sqlite3.connect(path) as connection:
        return int(connection.execute("SELECT count(*) FROM captures").fetchone()[0])


def steps(path: Path) -> list[int]:
    with Record(path) as record:
        return [seen.step_no for seen in record.snapshots(START, START + timedelta(days=1))]


def test_a_snapshot_is_on_the_disk_with_its_commit_and_a_minute_ends_as_one_row(tmp_path: Path) -> None:
    path = tmp_path / "pool.journal"
    journal = Journal.open(path)
    for step in range(59):
        journal.commit(entry(step, snapshot=snapshot(step, step, orp=700.0 + step)), durable_now=step % 5 == 4)
        if step % 5 == 4:
            assert steps(path) == list(range(step + 1))
    assert count(path) == 11
    for step in range(59, 600):
        journal.commit(entry(step, snapshot=snapshot(step, step, orp=700.0 + step)), durable_now=step % 5 == 4)
    assert steps(path) == list(range(600))
    assert count(path) <= 7 + 3 * 12  # the newest minutes may wait to be merged
    journal.flush()
    journal.close()
    again = Journal.open(path)
    for step in range(600, 1200):
        again.commit(entry(step, snapshot=snapshot(step, step, orp=1.0)), durable_now=False)
    again.flush()
    again.close()
    assert steps(path) == list(range(1200))


def test_a_new_plan_begins_a_new_row(tmp_path: Path) -> None:
    path = tmp_path / "pool.journal"
    journal = Journal.open(path)
    for step in range(10):
        digest = "old" if step < 5 else "new"
        body = b"[pool]" if step == 5 else None
        journal.commit(entry(step, snapshot=snapshot(step, step), plan_digest=digest, plan=body), durable_now=True)
    with sqlite3.connect(path) as connection:
        assert connection.execute("SELECT DISTINCT plan_digest FROM captures ORDER BY id").fetchall() == [("old",), ("new",)]
        assert connection.execute("SELECT digest FROM plans").fetchall() == [("new",)]
    assert steps(path) == list(range(10))
    journal.close()


def test_inputs_of_a_commit_that_failed_come_with_the_next(tmp_path: Path) -> None:
    path = tmp_path / "pool.journal"
    journal = Journal.open(path)
    for step in range(300):
        failing = step % 7 != 0
        journal._full.execute(f"PRAGMA query_only = {'ON' if failing else 'OFF'}")
        with pytest.raises(JournalFailed) if failing else nullcontext():
            journal.commit(entry(step, snapshot=snapshot(step, step)), durable_now=True)
    journal._full.execute("PRAGMA query_only = OFF")
    journal.flush()
    assert steps(path) == list(range(300))
    journal.close()
