"""An absence: durable, a line each morning that is honest, one account at its end, the same on the command line."""

from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from dosectl.core.controller.begin import StartOf, begin
from dosectl.core.controller.state import Durable
from dosectl.daemon.account import account
from dosectl.daemon.away import Away
from dosectl.daemon.calendar import Calendar
from dosectl.daemon.calling import put_line, put_monthly, put_test
from dosectl.daemon.morning import morning
from dosectl.daemon.parts import changed_parts, durable_from
from dosectl.model.absences import lasting
from dosectl.model.feeds import FeederId, Substance
from dosectl.model.reasons import Facts
from dosectl.store.call_outbox import CallOutbox
from dosectl.store.journal import Journal
from dosectl.store.read import Record
from dosectl.texts.lines import ACCOUNT, MORNING, line_text
from tests.daemon.recorded import Recorded
from tests.notify.people import until

ROME = ZoneInfo("Europe/Rome")


@pytest.fixture
def pool(tmp_path: Path) -> Iterator[Recorded]:
    made = Recorded(tmp_path)
    yield made
    made.close()


def tested(pool: Recorded) -> None:
    for quantity in ("free_chlorine", "ph"):
        pool.loop.water_test(quantity, "drops")
    pool.loop.ask("refill", (("feeder", "acid"), ("container_ml", 5000.0)))


def messages(pool: Recorded, code: str) -> list[Facts]:
    with CallOutbox(pool.path) as outbox:
        return [call.facts for call in outbox.open_calls() if call.code == code]


def spoken(facts: Facts, code: str = MORNING, language: str = "en") -> str:
    return line_text(code, facts, language, ROME)


def test_an_absence_outlives_a_restart_and_ends_by_itself_when_its_time_is_up(pool: Recorded) -> None:
    pool.loop.ask("go_away", (("days", 1.0),))
    moment = pool.pass_by(0.1)
    parts = dict(changed_parts(None, moment.state.durable))
    kept = durable_from(pool.loop.plan, parts, moment.state.durable.ledger)
    assert kept is not None
    again = begin(pool.loop.plan, kept, StartOf(moment.state.working.last, 0.0, clean=True))
    assert lasting(again.durable.absences) == lasting(moment.state.durable.absences) is not None
    moment = pool.pass_by(24.0)
    (ended,) = moment.state.durable.absences
    assert ended.by_itself
    assert ended.ended is not None
    assert ended.ended - ended.begun == timedelta(days=1)


def test_a_record_from_before_absences_is_read_as_nobody_away(pool: Recorded) -> None:
    moment = pool.pass_by(0.1)
    parts = {name: body for name, body in changed_parts(None, moment.state.durable) if name != "absences"}
    kept = durable_from(pool.loop.plan, parts, moment.state.durable.ledger)
    assert isinstance(kept, Durable)
    assert kept.absences == ()


def test_the_morning_says_all_is_well_with_figures_only_while_it_is(pool: Recorded) -> None:
    tested(pool)
    moment = pool.pass_by(26.0)
    well = spoken(morning(pool.loop.plan.site, moment.state, moment.decision.control.target_mg_l))
    water = moment.decision.water
    assert well.startswith("All is well. Chlorine about ")
    assert f"about {water.free_chlorine_mg_l:.1f} mg/L" in well
    assert "Redox" in well
    assert "Fed in a day: chlorine " in well
    pool.plant.set_fault("flow_lost", True)
    moment = pool.pass_by(4.0)
    bad = spoken(morning(pool.loop.plan.site, moment.state, moment.decision.control.target_mg_l))
    assert bad.startswith("Not all is well: No water flow although the pump runs")
    assert len(bad) <= 400


def test_a_stop_by_hand_or_unknown_chlorine_is_not_well(pool: Recorded) -> None:
    tested(pool)
    pool.loop.ask("stop", ())
    moment = pool.pass_by(1.0)
    assert "feeding is stopped by hand" in spoken(morning(pool.loop.plan.site, moment.state, moment.decision.control.target_mg_l))


def test_chlorine_under_half_the_target_or_a_container_at_its_end_is_not_well(pool: Recorded) -> None:
    tested(pool)
    moment = pool.pass_by(3.0)
    site, water = pool.loop.plan.site, moment.decision.water
    assert spoken(morning(site, moment.state, 1.9 * water.free_chlorine_mg_l)).startswith("All is well")
    assert "chlorine is low" in spoken(morning(site, moment.state, 2.1 * water.free_chlorine_mg_l))
    use = (*moment.state.durable.standing.daily_use_mg_l, (Substance.ACID, (10.0,) * 5))
    standing = replace(moment.state.durable.standing, daily_use_mg_l=use)
    hungry = replace(moment.state, durable=replace(moment.state.durable, standing=standing))
    text = spoken(morning(site, hungry, moment.decision.control.target_mg_l))
    assert text.startswith("Not all is well: a container lasts less than three days.")


def test_each_morning_one_line_and_at_the_end_one_account_also_when_asked_again(pool: Recorded) -> None:
    def say(key: str, now: datetime, code: str, facts: Facts) -> None:
        put_line(pool.path, key, now, code, facts)  # type: ignore[arg-type]

    away = Away(pool.path, pool.loop.plan.site, say)
    tested(pool)
    pool.loop.ask("go_away", (("days", 2.0),))
    for hour in range(60):
        moment = pool.pass_by(1.0)
        if hour % 24 == 2:
            for _ in range(2):  # a word of the calendar that comes twice
                away.morning(moment.state, moment.decision.control.target_mg_l)
        away.after_step(moment.state.durable, moment.state.working.last.utc)
    until(lambda: bool(messages(pool, ACCOUNT)))
    assert len(messages(pool, MORNING)) == 2, "the third morning nobody is away any more"
    restarted = Away(pool.path, pool.loop.plan.site, say)
    restarted.after_step(moment.state.durable, moment.state.working.last.utc)
    restarted.stop()
    away.stop()
    assert len(messages(pool, ACCOUNT)) == 1


def test_the_account_is_what_happened(pool: Recorded) -> None:
    tested(pool)
    pool.pass_by(2.0)
    pool.loop.ask("go_away", (("days", 30.0),))
    begun = pool.pass_by(1.0 / 60.0).state
    fed_before = {feeder.id: begun.durable.ledger.of(feeder.id).total_g for feeder in pool.loop.plan.site.feeders}
    in_band = total = 0
    for number, moment in enumerate(pool.run(48.0)):
        if number == 15 * 60:
            pool.plant.set_fault("flow_lost", True)
        if number == 30 * 60:
            pool.plant.set_fault("flow_lost", False)
        target = moment.decision.control.target_mg_l
        in_band += 0.75 * target <= moment.decision.water.free_chlorine_mg_l <= 1.5 * target
        total += 1
    pool.loop.ask("come_back", ())
    state = pool.pass_by(1.0 / 60.0).state
    (absence,) = state.durable.absences
    assert absence.ended is not None
    with Record(pool.path) as record:
        facts = dict(account(record, pool.loop.plan.site, state.durable, absence.begun, absence.ended))
    assert facts["days"] == 2.0
    volume_m3 = pool.loop.plan.site.pool.volume_m3
    for feeder, before_g in fed_before.items():
        fed = (state.durable.ledger.of(feeder).total_g - before_g) / volume_m3
        # A reservation under way at an end counts where it was opened; it holds at most 0.25 mg/L.
        assert facts[f"fed:{feeder}"] == pytest.approx(fed, abs=0.25)
    acid = pool.loop.plan.site.feeder(FeederId("acid"))
    assert facts["used:acid"] == pytest.approx(float(facts["fed:acid"]) * volume_m3 * acid.ml_per_g, rel=0.05)
    assert 0 < float(facts["left:acid"]) < 5000
    assert facts["alarm:flow.lost"] == 1
    assert 0 < float(facts["longest:flow.lost"]) <= 15.0
    assert float(facts["in_band_h"]) / float(facts["known_h"]) == pytest.approx(in_band / total, abs=0.06)
    assert float(facts["known_h"]) >= 46.0
    text = spoken(tuple(facts.items()), ACCOUNT)
    assert text.startswith("While you were away (2 days):")
    assert "No water flow although the pump runs (1x" in text
    assert "no water tests" in text
    assert len(text) <= 2000


def test_a_pools_own_time_makes_the_days_work_due_once_and_the_wall_clock_does_not() -> None:
    words: list[str] = []
    calendar = Calendar("Europe/Rome", words.append, words.append, ticked=True)
    at = datetime(2026, 10, 24, 0, 0, tzinfo=UTC)  # a Saturday; the night after it has an hour twice
    for _ in range(3 * 24 * 60):
        calendar.passed(at)
        at += timedelta(minutes=1)
    assert words.count("day_summary") == 3
    assert words.count("week_summary") == 1
    calendar.passed(at + timedelta(days=5))
    assert words.count("day_summary") == 4, "a jump makes one day's work due, not five"


def test_a_machine_that_was_off_on_the_first_tests_the_calls_later_in_the_month_and_once(tmp_path: Path) -> None:
    Journal.open(tmp_path / "pool.journal").close()
    words: list[str] = []
    put_test(tmp_path / "pool.journal", datetime(2026, 8, 1, 8, 0, tzinfo=UTC), 202608)
    at = datetime(2026, 9, 3, 6, 0, tzinfo=UTC)
    put: list[datetime] = []
    calendar = Calendar("Europe/Rome", words.append, words.append, ticked=True)
    while at < datetime(2026, 10, 3, 6, 0, tzinfo=UTC):
        calendar.passed(at)
        if "calls_test" in words:
            words.clear()
            put += [at] * put_monthly(tmp_path / "pool.journal", at, ZoneInfo("Europe/Rome"))
        at += timedelta(minutes=10)
    assert [moment.date().isoformat() for moment in put] == ["2026-09-03", "2026-10-01"]


def test_hours_of_a_time_that_begins_within_a_step_are_no_more_than_it_has(pool: Recorded) -> None:
    tested(pool)
    pool.pass_by(6.0)
    state = pool.pass_by(1.0 / 60.0).state
    end = state.working.last.utc - timedelta(minutes=17)
    for hours in (0.3, 1.0, 2.2, 4.9):
        with Record(pool.path) as record:
            facts = dict(account(record, pool.loop.plan.site, state.durable, end - timedelta(hours=hours), end))
        assert float(facts.get("in_band_h", 0.0)) <= float(facts["known_h"]) <= float(facts["of_h"])
        assert float(facts["known_h"]) >= float(facts["of_h"]) - 0.6
