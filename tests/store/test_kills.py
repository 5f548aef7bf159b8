"""SIGKILL at any moment loses no row that was acknowledged and never damages the file.

This proves crashes of the process, not loss of power: what the kernel holds survives a kill.
"""

import os
import random
import signal
import sqlite3
import subprocess
import sys
from pathlib import Path

from dosectl.model.ledger import Ledger
from dosectl.store.journal import Journal
from tests.store.entries import CELL

KILLS = 200
ROOT = Path(__file__).parents[2]

CHILD = """
import os, sys
from pathlib import Path
from dosectl.model.ledger import FeederLedger, Ledger
from dosectl.store.journal import Journal
from tests.store.entries import CELL, closed, drawn, entry, opened, reading, snapshot

paths = sys.stdin
os.write(1, b"ready\\n")
for line in paths:
    # A fork a run: the interpreter's start is paid once, the kill hits a real process of its own.
    child = os.fork()
    if child:
        os.write(1, b"pid %d\\n" % child)
        os.waitpid(child, 0)
        os.write(1, b"dead\\n")
        continue
    journal = Journal.open(Path(line.strip()))
    state = journal.load()
    ledger = state.ledger or Ledger((FeederLedger(CELL),))
    step = (state.last_step_no or 0) + 1
    journal.mark_start(entry(step).at_utc, 5000.0 + step)
    while True:
        at_s = 5000.0 + step
        ledger = opened(ledger, CELL, at_s, 1.0)
        journal.commit(entry(step, ledger=ledger, snapshot=snapshot(step, step, flow=True)), durable_now=True)
        os.write(1, b"open %d %d\\n" % (step, ledger.next_no - 1))
        ledger = drawn(ledger, CELL, at_s + 0.2, 0.5)
        journal.commit(entry(step, step + 0.2, ledger=ledger, readings=(reading("orp", 700.0 + step, step),)), durable_now=False)
        ledger = closed(ledger, CELL, at_s + 0.4, 0.5)
        journal.commit(entry(step, step + 0.4, ledger=ledger), durable_now=True)
        os.write(1, b"shut %d %d\\n" % (step, ledger.next_no - 1))
        step += 1
"""


def test_two_hundred_kills_lose_no_acknowledged_entry(tmp_path: Path) -> None:
    path = tmp_path / "pool.journal"
    chance = random.Random(20260601)
    opened: set[int] = set()
    shut: set[int] = set()
    parent = subprocess.Popen([sys.executable, "-c", CHILD], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True, cwd=ROOT)
    assert parent.stdin is not None
    assert parent.stdout is not None
    assert parent.stdout.readline() == "ready\n"
    caught_open = 0
    for _ in range(KILLS):
        parent.stdin.write(f"{path}\n")
        parent.stdin.flush()
        lines_before_kill = chance.randrange(0, 7)
        child = 0
        newest = ""
        for line in parent.stdout:
            word, _, rest = line.partition(" ")
            if word == "dead\n":
                break
            if word == "pid":
                child = int(rest)
            else:
                newest = word
                (opened if word == "open" else shut).add(int(rest.split()[1]))
                lines_before_kill -= 1
            if lines_before_kill == 0 and child:
                os.kill(child, signal.SIGKILL)
                lines_before_kill = -1
            elif lines_before_kill == 0:
                lines_before_kill = 1  # its line came before its pid
        caught_open += newest == "open"
    parent.stdin.close()
    assert parent.wait(10) == 0
    with sqlite3.connect(path) as connection:
        assert connection.execute("PRAGMA integrity_check").fetchone() == ("ok",)
        rows = dict(connection.execute("SELECT no, fed_g FROM ledger").fetchall())
    assert opened <= set(rows)
    assert len(opened) > KILLS
    assert caught_open >= 20
    assert [number for number in shut if rows[number] != 0.5] == []
    assert [fed_g for fed_g in rows.values() if fed_g is not None and fed_g not in (0.5, 1.0)] == []  # as proven, or in full
    journal = Journal.open(path)
    state = journal.load()
    assert isinstance(state.ledger, Ledger)
    assert state.ledger.of(CELL).open is None
    assert state.ledger.of(CELL).total_g >= sum(0.5 for _ in rows)
    assert state.starts >= KILLS * 0.8
    assert not state.clean_stop
    journal.close()
