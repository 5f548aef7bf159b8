"""The one order of effects: OFFs, then the commit, then ONs only if it held, then everything else."""

from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from dosectl.core.controller.decision import Decision
from dosectl.core.controller.state import State
from dosectl.daemon.effects import DrySink, Effects
from dosectl.model.feeds import FeedOff, FeedOn
from dosectl.model.snapshot import Snapshot
from dosectl.pool_model.plant import PoolPlant
from dosectl.pool_model.scenarios import QUINCE_HOUSE_START, quince_house
from dosectl.rehearsal.loop import ClosedLoop, Moment, demo_loaded
from dosectl.store.faults import JournalFull


class Log:
    """Notes what happens in which order; the record can be made to fail."""

    def __init__(self, fails: bool = False) -> None:
        self.lines: list[str] = []
        self.fails = fails

    def off(self, command: FeedOff) -> None:
        self.lines.append(f"off {command.feeder}")

    def on(self, command: FeedOn) -> bool:
        self.lines.append(f"on {command.feeder}")
        return True

    def record(self, after: State, decision: Decision, snapshot: Snapshot) -> None:
        self.lines.append("commit")
        if self.fails:
            raise JournalFull("no room")

    def tell(self, state: State, decision: Decision) -> None:
        self.lines.append("tell")


@pytest.fixture(scope="module")
def feeding() -> Moment:
    """A step of the closed loop in which the cell is asked on."""
    loop = ClosedLoop.of(demo_loaded(), PoolPlant(quince_house(), QUINCE_HOUSE_START, 1))
    loop.water_test("free_chlorine", "drops")
    loop.water_test("ph", "drops")
    for moment in loop.run(12):
        if any(isinstance(command, FeedOn) and command.send for command in moment.decision.commands):
            return moment
    raise AssertionError("nothing was fed in twelve hours")


def carried_out(log: Any, moment: Moment, sink: Any = None) -> list[str]:
    effects = Effects(sink or log, log, log)
    off = [replace(c, repeat=True) if isinstance(c, FeedOff) else c for c in moment.decision.commands]
    decision = replace(moment.decision, commands=tuple(off))
    now = moment.decision.evidence.now
    effects.carry_out(moment.state, decision, Snapshot(1, now, (), moment.decision.evidence.health))
    log.ok = effects.journal_ok
    return list(log.lines)


def test_offs_go_first_then_the_commit_then_the_on_then_the_rest(feeding: Moment) -> None:
    lines = carried_out(Log(), feeding)
    assert [line.split()[0] for line in lines] == ["off", "commit", "on", "tell"]


def test_without_a_commit_no_on_leaves_and_the_next_step_knows(feeding: Moment) -> None:
    log = Log(fails=True)
    lines = carried_out(log, feeding)
    assert [line.split()[0] for line in lines] == ["off", "commit", "tell"]
    assert log.ok is False  # type: ignore[attr-defined]


def test_a_dry_run_has_no_way_to_send(feeding: Moment) -> None:
    assert [line.split()[0] for line in carried_out(Log(), feeding, DrySink())] == ["commit", "tell"]


def test_the_order_is_written_in_one_file() -> None:
    """ONs leave through `sink.on` alone, and only the effects call it."""
    callers = [path.name for path in Path("dosectl").rglob("*.py") if "_sink.on(" in path.read_text(encoding="utf-8")]
    assert callers == ["effects.py"]
