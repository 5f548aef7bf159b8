"""The hours of flow, learnt."""

from datetime import UTC, datetime, timedelta

import pytest

from dosectl.core.control import FlowHabit

MIDNIGHT = datetime(2025, 6, 1, tzinfo=UTC)


def learnt(days: int, hours: range, habit: FlowHabit | None = None) -> FlowHabit:
    habit = habit or FlowHabit()
    for minute in range(days * 1440 + 1):
        utc = MIDNIGHT + timedelta(minutes=minute)
        habit = habit.watched(utc, 60.0, utc.hour in hours)
    return habit


def test_until_it_is_learnt_the_flow_is_taken_to_go_on() -> None:
    assert FlowHabit().ahead(MIDNIGHT) == (24.0, 0.0)
    assert FlowHabit().daily_h == 24.0


def test_a_timer_is_learnt_in_a_day() -> None:
    habit = learnt(1, range(8, 20))
    assert habit.ahead(MIDNIGHT.replace(hour=9, minute=30)) == (pytest.approx(10.5), 12.0)
    assert habit.ahead(MIDNIGHT.replace(hour=19, minute=45)) == (pytest.approx(0.25), 12.0)
    assert habit.daily_h == pytest.approx(12.0)


def test_a_changed_timer_is_learnt_in_a_few_days() -> None:
    habit = learnt(3, range(10, 16), learnt(5, range(8, 20)))
    assert habit.ahead(MIDNIGHT.replace(hour=12)) == (pytest.approx(4.0), 18.0)


def test_one_day_off_does_not_unlearn() -> None:
    habit = learnt(1, range(0), learnt(5, range(8, 20)))
    assert habit.ahead(MIDNIGHT.replace(hour=9))[0] == pytest.approx(11.0)


def test_a_pump_that_runs_day_and_night_knows_no_end() -> None:
    assert learnt(2, range(24)).ahead(MIDNIGHT.replace(hour=5)) == (24.0, 0.0)
