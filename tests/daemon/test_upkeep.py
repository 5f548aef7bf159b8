"""The day's summary: once a day whatever the scheduler does, with what was fed and what falls due, on record and on the bus."""

from collections.abc import Mapping
from dataclasses import replace
from datetime import timedelta
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from dosectl.core.controller.state import State
from dosectl.daemon.upkeep import SUMMARY, WEEK_SUMMARY, Upkeep, due
from dosectl.model.feeds import FeederId
from dosectl.model.reasons import Facts
from dosectl.pool_model.plant import PoolPlant
from dosectl.pool_model.scenarios import QUINCE_HOUSE_START, quince_house
from dosectl.rehearsal.loop import ClosedLoop, demo_loaded
from dosectl.store.journal import Journal
from dosectl.store.read import Record
from dosectl.texts.lines import line_text
from tests.daemon.recorded import Recorded


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


def test_a_test_is_due_early_where_the_chlorine_is_not_well_known() -> None:
    loop, _ = a_state()
    for quantity in ("free_chlorine", "ph"):
        loop.water_test(quantity, "drops")
    loop.one()
    working = loop.state.working
    assert working.view is not None
    unsure = replace(working.view, free_chlorine_mg_l=3.0, sigma_mg_l=1.5)
    found = due(loop.plan.site, State(loop.state.durable, replace(working, view=unsure)))
    assert found == ["test free_chlorine: what is believed of it is too doubtful"]


def test_the_weeks_summary_is_made_once_a_week_on_record_on_the_bus_and_for_whom_it_is_sent(tmp_path: Path) -> None:
    pool = Recorded(tmp_path)
    moment = pool.pass_by(30.0)
    told: list[Mapping[str, Any]] = []
    sent: list[Facts] = []
    upkeep = Upkeep(pool.path, pool.loop.plan.site, told.append, lambda facts, _now: sent.append(facts))
    for _ in range(2):
        upkeep.do("week_summary", moment.state, pool.journal)
    pool.journal.flush()
    with Record(pool.path) as record:
        now = moment.state.working.last.utc
        lines = [
            event for event in record.events(now - timedelta(days=8), now + timedelta(hours=1)) if event.code == WEEK_SUMMARY
        ]
    pool.close()
    (facts,), (week,), (line,) = sent, told, lines
    assert week["week"] == dict(facts)
    assert dict(line.facts) == dict(facts)
    assert float(dict(facts)["fed:cell"]) > 0.0
    assert line_text("week.summary", facts, "en", ZoneInfo("Europe/Rome")).startswith("The pool's last 7 days:")


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
