"""The journal holds what was committed, says what it can't, and goes on by itself."""

import sqlite3
from datetime import timedelta
from pathlib import Path

import pytest

from dosectl.model.feeds import FeederId, FeedOff, FeedOn, Substance
from dosectl.model.reasons import Code, Reason
from dosectl.model.requests import Place, Reply, Request, RequestId
from dosectl.store.entry import FeederDecision, Outcome
from dosectl.store.faults import JournalFailed
from dosectl.store.journal import Journal
from tests.store.entries import ACID, CELL, EMPTY, START, closed, drawn, entry, event, instant, opened, rows, snapshot


def test_a_new_journal_knows_nothing_and_counts_as_cleanly_stopped(path: Path) -> None:
    journal = Journal.open(path)
    state = journal.load()
    assert (state.parts, state.ledger, state.last_utc, state.last_clock_s, state.starts) == ({}, None, None, None, 0)
    assert state.clean_stop
    journal.close()


def test_an_urgent_entry_is_on_the_disk_when_commit_returns_with_all_that_waited(path: Path) -> None:
    journal = Journal.open(path)
    journal.commit(entry(1, events=(event("first"),)), durable_now=False)
    assert rows(path, "SELECT count(*) FROM events") == [(0,)]
    assert journal.waiting == 1
    journal.commit(entry(2, events=(event("second"),), parts=(("alarms", b"{}"),)), durable_now=True)
    assert [row[0] for row in rows(path, "SELECT facts FROM events ORDER BY id")] == ['{"text":"first"}', '{"text":"second"}']
    assert journal.waiting == 0
    journal.close()


def test_the_ledger_connection_waits_for_the_disk_and_both_use_write_ahead_logging(path: Path) -> None:
    journal = Journal.open(path)
    assert journal._full.execute("PRAGMA synchronous").fetchone() == (2,)
    assert journal._normal.execute("PRAGMA synchronous").fetchone() == (1,)
    assert journal._full.execute("PRAGMA journal_mode").fetchone() == ("wal",)
    journal.close()


def test_the_ledger_comes_back_to_the_last_bit(path: Path) -> None:
    journal = Journal.open(path)
    ledger = EMPTY
    for step in range(1, 40):
        at_s = 5000.0 + step * 60
        feeder = CELL if step % 3 else ACID
        ledger = opened(ledger, feeder, at_s, 0.1 * step)
        journal.commit(entry(step, step * 60.0, ledger=ledger), durable_now=True)
        ledger = drawn(ledger, feeder, at_s + 10, 0.03 * step)
        journal.commit(entry(step, step * 60.0 + 10, ledger=ledger), durable_now=False)
        ledger = closed(ledger, feeder, at_s + 20, 0.07 * step)
        journal.commit(entry(step, step * 60.0 + 20, ledger=ledger), durable_now=False)
    journal.flush()
    journal.close()
    again = Journal.open(path)
    stored = again.load().ledger
    assert stored is not None
    assert {entry_.feeder: entry_ for entry_ in stored.feeders} == {entry_.feeder: entry_ for entry_ in ledger.feeders}
    assert stored.next_no == ledger.next_no
    again.close()


def test_old_entries_leave_the_memory_but_not_the_totals_nor_the_disk(path: Path) -> None:
    journal = Journal.open(path)
    ledger = EMPTY
    for step in range(1, 6):
        ledger = closed(opened(ledger, CELL, 5000.0 + step, 1.0), CELL, 5000.5 + step, 0.5)
        ledger = ledger.with_feeder(ledger.of(CELL).forgetting(5000.0 + step))
        journal.commit(entry(step, ledger=ledger), durable_now=True)
    journal.close()
    again = Journal.open(path)
    short = again.load(window_s=1.6).ledger
    assert short is not None
    assert short.of(CELL).closed_g == 2.5
    assert short.of(CELL).times_s == (5003.5, 5004.5, 5005.5)
    assert short.next_no == ledger.next_no
    assert rows(path, "SELECT count(*), sum(fed_g) FROM ledger") == [(5, 2.5)]
    again.close()


def test_a_reservation_left_open_by_a_crash_is_booked_in_full_and_counts_as_late_as_it_may_have_fed(path: Path) -> None:
    journal = Journal.open(path)
    journal.mark_start(START, 5000.0)
    ledger = drawn(opened(EMPTY, CELL, 5001.0, 12.0), CELL, 5003.0, 2.0)
    journal.commit(entry(3, ledger=ledger), durable_now=True)
    journal.close()  # no clean stop
    again = Journal.open(path)
    state = again.load()
    assert not state.clean_stop
    assert state.crash_booked == ("cell",)
    assert state.ledger is not None
    cell = state.ledger.of(CELL)
    assert cell.open is None
    assert cell.total_g == 12.0
    assert cell.times_s[-1] >= 5003.0 + 60.0
    again.commit(entry(4, ledger=state.ledger), durable_now=True)
    again.close()
    assert rows(path, "SELECT no, fed_g, total_g FROM ledger") == [(1, 12.0, 12.0)]


def test_what_each_feeder_feeds_comes_back_also_from_a_record_of_the_schema_that_did_not_keep_it(path: Path) -> None:
    journal = Journal.open(path)
    ledger = closed(opened(EMPTY, CELL, 5001.0, 12.0), CELL, 5002.0, 7.0)
    journal.commit(entry(1, ledger=ledger), durable_now=True)
    ledger = opened(ledger, ACID, 5003.0, 3.0)
    journal.commit(entry(2, ledger=ledger), durable_now=True)
    assert known(journal) == {CELL: (Substance.CHLORINE, 7.0), ACID: (Substance.ACID, 3.0)}
    journal.close()
    with sqlite3.connect(path) as older:
        older.execute("ALTER TABLE ledger DROP COLUMN substance")
        older.execute("PRAGMA user_version = 2")
    older.close()
    again = Journal.open(path)
    assert known(again) == {CELL: (None, 7.0), ACID: (None, 3.0)}
    again.close()


def known(journal: Journal) -> dict[FeederId, tuple[Substance | None, float]]:
    ledger = journal.load().ledger
    assert ledger is not None
    return {book.feeder: (book.substance, book.total_g) for book in ledger.feeders}


def test_a_ledger_that_does_not_follow_from_the_disk_is_refused(path: Path) -> None:
    journal = Journal.open(path)
    ledger = closed(opened(EMPTY, CELL, 5001.0, 12.0), CELL, 5002.0, 7.0)
    journal.commit(entry(1, ledger=ledger), durable_now=True)
    with pytest.raises(JournalFailed, match="does not follow"):
        journal.commit(entry(2, ledger=EMPTY), durable_now=True)
    journal.close()


def test_starts_and_a_clean_stop_are_remembered(path: Path) -> None:
    journal = Journal.open(path)
    journal.mark_start(START, 10.0)
    assert not journal.load().clean_stop
    journal.commit(entry(1), durable_now=False)
    journal.mark_clean_stop(START + timedelta(hours=1))
    journal.close()
    again = Journal.open(path)
    again.mark_start(START + timedelta(hours=2), 20.0)
    again.mark_clean_stop(START + timedelta(hours=3))
    state = again.load()
    assert (state.clean_stop, state.starts, state.starts_s) == (True, 2, (10.0, 20.0))
    assert (state.last_step_no, state.last_clock_s, state.last_utc) == (1, 5001.0, START + timedelta(seconds=1))
    again.close()


def test_the_newest_of_each_durable_part_comes_back(path: Path) -> None:
    journal = Journal.open(path)
    journal.commit(entry(1, parts=(("latches", b"[1]"), ("tests", b"[]"))), durable_now=False)
    journal.commit(entry(2, parts=(("latches", b"[2]"),)), durable_now=True)
    journal.close()
    assert Journal.open(path, readonly=True).load().parts == {"latches": b"[2]", "tests": b"[]"}


def test_requests_and_their_replies_are_kept_once(path: Path) -> None:
    asked = Request(RequestId("r1"), Code("stop"), (("why", "swim"),), "ann", Place.REMOTE, START)
    reply = Reply(RequestId("r1"), True, Code("stop.done"), (), "Stopped.")
    other = Reply(RequestId("r1"), False, Code("stop.refused"), (), "No.")
    journal = Journal.open(path)
    seen = snapshot(1, 1.0)
    journal.commit(entry(1, snapshot=type(seen)(1, seen.now, (), seen.health, (asked,)), replies=(reply,)), durable_now=True)
    journal.commit(entry(2, replies=(other,)), durable_now=True)
    assert rows(path, "SELECT request, done, code FROM replies") == [("r1", 1, "stop.done")]
    assert rows(path, "SELECT kind, arguments, by, place FROM requests") == [("stop", '{"why":"swim"}', "ann", "remote")]
    journal.close()


def test_half_a_surrogate_pair_in_a_request_does_not_cost_the_ledger_its_commit(path: Path) -> None:
    asked = Request(RequestId("r\ud800"), Code("stop"), (("why", "\udfff"),), "ann\ud800", Place.REMOTE, START)
    reply = Reply(RequestId("r\ud800"), False, Code("request.unknown"), (("shown", "\ud800"), ("number", float("nan"))), "No.")
    journal = Journal.open(path)
    seen = snapshot(1, 1.0)
    ledger = opened(EMPTY, CELL, 5001.0, 3.0)
    journal.commit(
        entry(1, ledger=ledger, snapshot=type(seen)(1, seen.now, (), seen.health, (asked,)), replies=(reply,)), durable_now=True
    )
    assert rows(path, "SELECT by FROM requests") == [("ann?",)]
    assert rows(path, "SELECT json_extract(facts, '$.number') FROM replies") == [("nan",)]
    assert rows(path, "SELECT count(*) FROM ledger") == [(1,)]
    journal.close()


def test_an_unchanged_decision_and_a_renewal_make_no_new_rows(path: Path) -> None:
    journal = Journal.open(path)
    why = Reason(Code("flow.unproven"), (("flow_l_min", 0.0),), instant(0))
    held = FeederDecision(CELL, Outcome.WITHHELD, (why,))
    feeding = FeederDecision(CELL, Outcome.FEEDING, ())
    off = FeedOff(CELL, 1, why)
    for step in range(1, 30):
        journal.commit(entry(step, decisions=(held,), commands=(off,)), durable_now=False)
    for step in range(30, 60):
        command = FeedOn(CELL, step, 1.0, 10.0, 7)
        journal.commit(entry(step, decisions=(feeding,), commands=(command,)), durable_now=False)
    journal.commit(entry(60, decisions=(held,), commands=(off,)), durable_now=True)
    assert rows(path, "SELECT outcome FROM decisions ORDER BY id") == [("withheld",), ("feeding",), ("withheld",)]
    assert rows(path, "SELECT level, debit_no, renewed, code FROM commands ORDER BY id") == [
        (0.0, None, 0, "flow.unproven"),
        (1.0, 7, 0, ""),
        (0.0, None, 29, "flow.unproven"),
    ]
    journal.close()
