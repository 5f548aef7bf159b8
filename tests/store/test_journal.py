"""The journal holds what was committed, says what it can't, and goes on by itself."""

import os
import sqlite3
import subprocess
import sys
import threading
from datetime import timedelta
from pathlib import Path

import pytest

from dosectl.model.feeds import FeederId, FeedOff, FeedOn, Substance
from dosectl.model.reasons import Code, Reason
from dosectl.model.requests import Place, Reply, Request, RequestId
from dosectl.store import schema
from dosectl.store.connect import transaction, writer
from dosectl.store.entry import FeederDecision, Outcome
from dosectl.store.faults import JournalDamaged, JournalFailed, JournalFull, JournalInUse, JournalNewer
from dosectl.store.journal import Journal
from tests.store.entries import ACID, CELL, EMPTY, START, closed, drawn, entry, event, instant, opened, snapshot


def rows(path: Path, sql: str) -> list[tuple[object, ...]]:
    with sqlite3.connect(f"file:{path}?mode=ro", uri=True) as connection:
        return connection.execute(sql).fetchall()


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "pool.journal"


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


def test_a_second_instance_is_refused_and_told_who_holds_the_journal(path: Path) -> None:
    journal = Journal.open(path)
    with pytest.raises(JournalInUse, match=rf"pid {os.getpid()} on .+ since 20"):
        Journal.open(path)
    looking = Journal.open(path, readonly=True)
    looking.close()
    journal.close()
    Journal.open(path).close()


def test_a_killed_holder_leaves_no_lock_behind(path: Path) -> None:
    code = f"""
import os, signal
from pathlib import Path
from dosectl.store.journal import Journal
journal = Journal.open(Path({str(path)!r}))
os.kill(os.getpid(), signal.SIGKILL)
"""
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == -9
    Journal.open(path).close()


def test_a_newer_journal_is_refused_and_says_how_to_go_on(path: Path) -> None:
    Journal.open(path).close()
    with sqlite3.connect(path) as connection:
        connection.execute("PRAGMA user_version = 99")
    with pytest.raises(JournalNewer, match=r"schema 99.*Install the newer version again"):
        Journal.open(path)


def test_a_database_of_another_program_is_never_used(path: Path) -> None:
    with sqlite3.connect(path) as connection:
        connection.execute("CREATE TABLE theirs (a)")
    with pytest.raises(JournalDamaged, match="another program"):
        Journal.open(path)


@pytest.mark.parametrize("harm", ["garbage", "empty", "cut", "holes"])
def test_a_damaged_file_is_refused_and_says_how_to_recover(path: Path, harm: str) -> None:
    journal = Journal.open(path)
    journal.commit(entry(1, events=tuple(event("x" * 200) for _ in range(500))), durable_now=True)
    journal.close()
    body = bytearray(path.read_bytes())
    size = len(body)
    if harm == "garbage":
        body[:4096] = b"\x5a" * 4096
    elif harm == "empty":
        body.clear()
    elif harm == "cut":
        del body[size // 2 :]
    else:
        body[size // 2 : size // 2 + 20_000] = b"\xff" * 20_000
    path.write_bytes(body)
    with pytest.raises(JournalDamaged, match=r"Stop the program and keep the file"):
        Journal.open(path)
    assert path.read_bytes() == bytes(body)
    path.rename(path.with_suffix(".damaged"))  # what the text says
    Journal.open(path).close()


def test_a_torn_tail_of_the_write_ahead_log_loses_only_what_was_never_acknowledged(path: Path) -> None:
    code = f"""
import os, signal
from pathlib import Path
from dosectl.store.journal import Journal
from tests.store.entries import entry, event
journal = Journal.open(Path({str(path)!r}))
journal.commit(entry(1, events=(event("held"),)), durable_now=True)
os.kill(os.getpid(), signal.SIGKILL)
"""
    subprocess.run([sys.executable, "-c", code], check=False, cwd=Path(__file__).parents[2])
    log = path.with_name(path.name + "-wal")
    with log.open("ab") as tail:
        tail.write(b"\x17" * 5000)
    journal = Journal.open(path)
    journal.close()
    assert rows(path, "SELECT facts FROM events") == [('{"text":"held"}',)]


def test_a_full_journal_refuses_the_debit_and_mends_by_itself(path: Path) -> None:
    journal = Journal.open(path)
    ledger = opened(EMPTY, CELL, 5001.0, 3.0)
    pages = journal._full.execute("PRAGMA page_count").fetchone()[0]
    for connection in (journal._full, journal._normal):
        connection.execute(f"PRAGMA max_page_count = {pages}")
    big = tuple(event("y" * 3000, step) for step in range(20))
    with pytest.raises(JournalFull, match="Free space on that disk"):
        journal.commit(entry(1, ledger=ledger, events=big, snapshot=snapshot(1, 1.0, flow=True)), durable_now=True)
    assert not journal.ok
    assert journal.needs_room
    assert rows(path, "SELECT count(*) FROM ledger") == [(0,)]
    with pytest.raises(JournalFull):
        journal.commit(entry(2), durable_now=False)
    for connection in (journal._full, journal._normal):
        connection.execute("PRAGMA max_page_count = 1000000")
    ledger = closed(ledger, CELL, 5002.5, 0.0)
    journal.commit(entry(3, ledger=ledger), durable_now=False)
    assert journal.ok
    assert rows(path, "SELECT no, fed_g FROM ledger") == [(1, 0.0)]
    assert rows(path, "SELECT count(*) FROM events WHERE code = 'test.happened'") == [(20,)]
    assert rows(path, "SELECT json_extract(facts, '$.failed') FROM events WHERE code = 'journal.late'") == [(2,)]
    assert rows(path, "SELECT count(*) FROM captures") == [(1,)]
    journal.close()


def test_a_limit_on_file_size_stops_the_ledger_and_lifting_it_lets_the_same_connection_write_on(path: Path) -> None:
    code = f"""
import resource
from pathlib import Path
from dosectl.store.faults import JournalError
from dosectl.store.journal import Journal
from tests.store.entries import EMPTY, CELL, entry, event, opened
journal = Journal.open(Path({str(path)!r}))
journal.commit(entry(1, ledger=opened(EMPTY, CELL, 5001.0, 1.0)), durable_now=True)
size = Path({str(path)!r} + "-wal").stat().st_size
resource.setrlimit(resource.RLIMIT_FSIZE, (size, resource.RLIM_INFINITY))
failed = 0
for step in range(2, 5):
    try:
        journal.commit(entry(step, events=tuple(event("z" * 3000) for _ in range(50))), durable_now=True)
    except JournalError:
        failed += 1
resource.setrlimit(resource.RLIMIT_FSIZE, (resource.RLIM_INFINITY, resource.RLIM_INFINITY))
journal.commit(entry(5), durable_now=True)
assert failed == 3, failed
assert journal.ok
journal.close()
"""
    done = subprocess.run(
        [sys.executable, "-c", code], check=False, cwd=Path(__file__).parents[2], capture_output=True, text=True
    )
    assert done.returncode == 0, done.stderr
    assert rows(path, "SELECT count(*) FROM events WHERE code = 'test.happened'") == [(150,)]
    assert rows(path, "PRAGMA quick_check") == [("ok",)]


def test_a_read_only_journal_refuses_to_commit(path: Path) -> None:
    Journal.open(path).close()
    journal = Journal.open(path, readonly=True)
    with pytest.raises(JournalFailed, match="READONLY"):
        journal.commit(entry(1), durable_now=True)
    journal.close()


def test_a_folder_that_does_not_exist_is_a_clear_refusal(tmp_path: Path) -> None:
    with pytest.raises(JournalFailed, match="Make the folder writable"):
        Journal.open(tmp_path / "nowhere" / "pool.journal")
    with pytest.raises(JournalFailed, match="there is no journal here"):
        Journal.open(tmp_path / "pool.journal", readonly=True)


def test_a_day_of_failures_keeps_what_matters_in_bounded_memory(path: Path) -> None:
    journal = Journal.open(path)
    reply = Reply(RequestId("r1"), True, Code("stop.done"), (), "Stopped.")
    journal._full.execute("PRAGMA query_only = ON")
    journal._normal.execute("PRAGMA query_only = ON")
    for step in range(1, 3000):
        with pytest.raises(JournalFailed):
            journal.commit(
                entry(step, snapshot=snapshot(step, step), parts=(("n", b"%d" % step),), replies=(reply,) if step == 5 else ()),
                durable_now=step == 1,
            )
    assert journal.waiting <= 601
    journal._full.execute("PRAGMA query_only = OFF")
    journal._normal.execute("PRAGMA query_only = OFF")
    journal.commit(entry(3000), durable_now=True)
    assert journal.load().parts == {"n": b"2999"}
    assert rows(path, "SELECT request FROM replies") == [("r1",)]
    assert rows(path, "SELECT rows > 2000 FROM lost WHERE what = 'snapshots'") == [(1,)]
    journal.close()


def test_a_commit_waits_for_another_writers_chunk_instead_of_failing(path: Path) -> None:
    journal = Journal.open(path)
    other = sqlite3.connect(path, isolation_level=None, check_same_thread=False)
    other.execute("BEGIN IMMEDIATE")
    letting_go = threading.Timer(0.2, lambda: other.execute("COMMIT"))
    letting_go.start()
    journal.commit(entry(1, ledger=opened(EMPTY, CELL, 5001.0, 1.0)), durable_now=True)
    assert rows(path, "SELECT count(*) FROM ledger") == [(1,)]
    letting_go.join()
    other.close()
    journal.close()


def test_what_a_crash_left_of_making_a_journal_is_no_obstacle(path: Path) -> None:
    path.with_name(path.name + ".new").write_bytes(b"half a file")
    path.with_name(path.name + ".new-wal").write_bytes(b"half a log")
    journal = Journal.open(path)
    journal.commit(entry(1), durable_now=True)
    journal.close()
    assert Journal.open(path, readonly=True).load().last_step_no == 1


def test_a_migration_that_fails_leaves_the_file_as_it_was(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    journal = Journal.open(path)
    journal.commit(entry(1, parts=(("n", b"1"),)), durable_now=True)
    journal.close()
    known = schema.migrations()
    monkeypatch.setattr(schema, "migrations", lambda: (*known, (known[-1][0] + 1, "CREATE TABLE two (a); CREATE TABLE two (a);")))
    with pytest.raises(JournalFailed):
        Journal.open(path)
    monkeypatch.setattr(schema, "migrations", lambda: (*known, (known[-1][0] + 1, "CREATE TABLE two (a);")))
    journal = Journal.open(path)
    assert journal.load().parts == {"n": b"1"}
    assert rows(path, "PRAGMA user_version") == [(known[-1][0] + 1,)]
    journal.close()
    monkeypatch.undo()
    with pytest.raises(JournalNewer):
        Journal.open(path)


def test_a_transaction_holds_the_write_lock_from_its_first_moment_so_that_what_it_read_stays_true(path: Path) -> None:
    Journal.open(path).close()
    first, second = writer(path, full=True), writer(path, full=True)
    second.execute("PRAGMA busy_timeout = 0")
    with transaction(first, path, "testing"):
        first.execute("SELECT count(*) FROM parts").fetchone()
        with pytest.raises(JournalFailed, match="BUSY"), transaction(second, path, "testing"):
            second.execute("INSERT INTO parts VALUES ('b', x'00')")
        first.execute("INSERT INTO parts VALUES ('a', x'00')")
    assert rows(path, "SELECT name FROM parts") == [("a",)]
    first.close()
    second.close()


def test_a_decision_of_a_commit_that_failed_is_written_by_the_next_and_a_later_repeat_is_not(path: Path) -> None:
    journal = Journal.open(path)
    held = FeederDecision(CELL, Outcome.WITHHELD, (Reason(Code("flow.unproven"), (), instant(0)),))
    journal._full.execute("PRAGMA query_only = ON")
    with pytest.raises(JournalFailed):
        journal.commit(entry(1, decisions=(held,)), durable_now=True)
    journal._full.execute("PRAGMA query_only = OFF")
    rows_full = journal._full.execute("PRAGMA page_count").fetchone()[0]
    journal._full.execute(f"PRAGMA max_page_count = {rows_full}")
    with pytest.raises(JournalFull):
        journal.commit(entry(2, events=tuple(event("y" * 3000) for _ in range(50))), durable_now=True)
    journal._full.execute("PRAGMA max_page_count = 1000000")
    journal.commit(entry(3, decisions=(held,)), durable_now=True)
    assert rows(path, "SELECT outcome, again FROM decisions") == [("withheld", 0)]
    journal.close()


def test_an_entry_that_could_not_be_written_at_once_goes_to_the_disk_at_once_with_the_next(
    path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    journal = Journal.open(path)
    ledger = opened(EMPTY, CELL, 5001.0, 12.0)
    with monkeypatch.context() as broken:
        broken.setattr("dosectl.store.ledger_rows.write", _refuses)
        with pytest.raises(JournalFailed):
            journal.commit(entry(1, ledger=ledger), durable_now=True)
    used: list[bool] = []
    as_it_is = journal._write
    monkeypatch.setattr(journal, "_write", lambda *, urgent: (used.append(urgent), as_it_is(urgent=urgent)))
    journal.commit(entry(2, ledger=ledger), durable_now=False)
    assert used == [True]
    assert rows(path, "SELECT reserved_g FROM ledger") == [(12.0,)]
    journal.close()


def _refuses(*_: object) -> None:
    raise sqlite3.OperationalError("disk I/O error")
