"""A journal that is held, damaged, full, torn, newer or interrupted: refused in clear words, or it goes on by itself."""

import os
import sqlite3
import subprocess
import sys
import threading
from pathlib import Path

import pytest

from dosectl.model.reasons import Code, Reason
from dosectl.model.requests import Reply, RequestId
from dosectl.store import schema
from dosectl.store.connect import transaction, writer
from dosectl.store.entry import FeederDecision, Outcome
from dosectl.store.faults import JournalDamaged, JournalFailed, JournalFull, JournalInUse, JournalNewer
from dosectl.store.journal import Journal
from tests.store.entries import CELL, EMPTY, closed, entry, event, instant, opened, rows, snapshot


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
from tests.store.entries import entry, event, rows
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
from tests.store.entries import EMPTY, CELL, entry, event, opened, rows
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
