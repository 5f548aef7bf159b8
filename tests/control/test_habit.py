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


def test_a_new_pool_is_taken_to_flow_by_daylight_and_one_day_corrects_it() -> None:
    habit = FlowHabit.assumed(9.0)
    assert habit.flows(12)
    assert not habit.flows(0)
    assert 8.0 <= habit.daily_h <= 14.0
    start = datetime(2026, 6, 1, 0, 0, tzinfo=UTC)
    for minute in range(25 * 60):
        utc = start + timedelta(minutes=minute)
        habit = habit.watched(utc, 60.0, utc.hour in (0, 1, 2))  # a pump that runs at night
    assert habit.flows(1)
    assert not habit.flows(3)


def test_feeding_ends_before_a_stop_that_came_at_the_same_time_on_two_days() -> None:
    stop = datetime(2026, 6, 1, 18, 0, tzinfo=UTC)
    habit = FlowHabit.assumed(9.0).stopped(stop)
    tomorrow = stop + timedelta(days=1)
    assert not habit.stops_soon(tomorrow - timedelta(minutes=2))  # once is no timer
    habit = habit.stopped(tomorrow + timedelta(seconds=20))
    third = stop + timedelta(days=2)
    assert habit.stops_soon(third - timedelta(minutes=2))
    assert not habit.stops_soon(third - timedelta(minutes=10))
    assert not habit.stops_soon(third + timedelta(minutes=10))


def test_a_stop_round_midnight_is_one_time_of_day() -> None:
    habit = FlowHabit()
    for day, second in ((1, -30), (2, 30)):
        habit = habit.stopped(datetime(2026, 6, day, 0, 0, tzinfo=UTC) + timedelta(seconds=second))
    assert habit.stops_soon(datetime(2026, 6, 3, 23, 58, 30, tzinfo=UTC))
