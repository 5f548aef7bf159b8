"""The day's summary: once a day whatever the scheduler does, with what was fed and what falls due, on record and on the bus."""

from collections.abc import Mapping
from dataclasses import replace
from datetime import timedelta
from pathlib import Path
from typing import Any

from dosectl.core.controller.state import State
from dosectl.daemon.upkeep import SUMMARY, Upkeep, due
from dosectl.model.feeds import FeederId
from dosectl.pool_model.plant import PoolPlant
from dosectl.pool_model.scenarios import QUINCE_HOUSE_START, quince_house
from dosectl.rehearsal.loop import ClosedLoop, demo_loaded
from dosectl.store.journal import Journal
from dosectl.store.read import Record


def a_state(hours: float = 1.0) -> tuple[ClosedLoop, State]:
    loop = ClosedLoop.of(demo_loaded(), PoolPlant(quince_house(), QUINCE_HOUSE_START, 1), use_mg_l_day=2.4)
    for _ in loop.run(hours):
        pass
    return loop, loop.state


def test_a_word_that_comes_twice_on_a_day_is_done_once_and_again_the_next_day(tmp_path: Path) -> None:
    loop, state = a_state()
    told: list[Mapping[str, Any]] = []
    journal = Journal.open(tmp_path / "pool.journal")
    journal.mark_start(state.working.last.utc, 0.0)
    upkeep = Upkeep(journal.path, loop.plan.site, told.append)
    for _ in range(2):
        upkeep.do("day_summary", state, journal)
    tomorrow = replace(state.working, last=replace(state.working.last, utc=state.working.last.utc + timedelta(days=1)))
    upkeep.do("day_summary", State(state.durable, tomorrow), journal)
    journal.flush()
    with Record(journal.path) as record:
        start = state.working.last.utc - timedelta(hours=1)
        lines = [event for event in record.events(start, start + timedelta(days=2)) if event.code == SUMMARY]
    journal.close()
    assert len(told) == 2
    assert len(lines) == 2
    assert "test free_chlorine: never tested" in told[0]["due"]


def test_what_falls_due_names_old_tests_and_containers_that_run_out() -> None:
    loop, _ = a_state()
    loop.water_test("free_chlorine", "drops")
    loop.water_test("ph", "drops")
    loop.ask("refill", (("feeder", "acid"), ("container_ml", 400.0), ("as_said", True)))
    loop.one()
    state = loop.state
    assert due(loop.plan.site, state) == []
    use = (
        *((s, d) for s, d in state.durable.standing.daily_use_mg_l),
        (loop.plan.site.feeder(FeederId("acid")).substance, (2.0,) * 14),
    )
    aged = replace(
        state.durable,
        standing=replace(state.durable.standing, daily_use_mg_l=use),
        clocks=replace(state.durable.clocks, clock_s=state.durable.clocks.clock_s + 8 * 86400.0),
    )
    found = due(loop.plan.site, State(aged, state.working))
    assert [line.split(":")[0] for line in found] == ["test free_chlorine", "test ph", "refill acid"]
