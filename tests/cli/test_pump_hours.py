"""The pump's hours for a rehearsal: typed, learnt, assumed."""

from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest

from dosectl.cli.pump_hours import PumpHours, learnt_windows, read
from dosectl.core.control import FlowHabit

JULY, JANUARY = datetime(2026, 7, 1, 6, tzinfo=UTC), datetime(2026, 1, 10, 6, tzinfo=UTC)


def learnt(hours: set[int], days: int = 5) -> FlowHabit:
    habit = FlowHabit.assumed(9.0)
    for minute in range(days * 1440 + 61):
        utc = datetime(2026, 6, 1, tzinfo=UTC) + timedelta(minutes=minute)
        habit = habit.watched(utc, 60.0, utc.hour in hours)
    return habit


@pytest.mark.parametrize(
    ("typed", "windows", "shown"),
    [
        ("8:00-20:00", ((8.0, 20.0),), "08:00 to 20:00"),
        ("08:00-12:30, 15:15-21:00", ((8.0, 12.5), (15.25, 21.0)), "08:00 to 12:30, 15:15 to 21:00"),
        ("15:00-21:00,06:00-09:00", ((6.0, 9.0), (15.0, 21.0)), "06:00 to 09:00, 15:00 to 21:00"),
        ("08:00-12:00,12:00-14:00", ((8.0, 12.0), (12.0, 14.0)), "08:00 to 12:00, 12:00 to 14:00"),
        ("22:00-06:00", ((0.0, 6.0), (22.0, 24.0)), "22:00 to 06:00"),
        ("22:00-00:00", ((22.0, 24.0),), "22:00 to 24:00"),
        ("00:00-24:00", ((0.0, 24.0),), "00:00 to 24:00"),
    ],
)
def test_windows_are_read_as_typed(typed: str, windows: tuple[tuple[float, float], ...], shown: str) -> None:
    assert read(typed) == windows
    assert str(PumpHours(windows, "as typed")) == f"{shown} (as typed)"


def test_learnt_hours_are_those_of_the_pools_own_day() -> None:
    habit = learnt({6, 7, 8, 13, 14, 15})
    assert learnt_windows(habit, JULY, "Europe/Zurich") == ((8.0, 11.0), (15.0, 18.0))
    assert learnt_windows(habit, JANUARY, "Europe/Zurich") == ((7.0, 10.0), (14.0, 17.0))
    assert learnt_windows(habit, JULY, "Asia/Kolkata") == ((11.5, 14.5), (18.5, 21.5))


def test_learnt_hours_that_pass_midnight_at_the_pool_are_two_windows() -> None:
    habit = learnt({20, 21, 22, 23, 0, 1})
    assert learnt_windows(habit, JULY, "Europe/Zurich") == ((0.0, 4.0), (22.0, 24.0))
    assert learnt_windows(learnt({17, 18, 19}), JULY, "Asia/Kolkata") == ((0.0, 1.5), (22.5, 24.0))


def test_a_pump_that_runs_round_the_clock_is_one_window() -> None:
    assert learnt_windows(learnt(set(range(24))), JULY, "Europe/Zurich") == ((0.0, 24.0),)


def test_hours_that_are_only_assumed_or_of_a_pump_at_rest_are_none() -> None:
    assert learnt_windows(FlowHabit.assumed(9.0), JULY, "Europe/Zurich") == ()
    assert learnt_windows(FlowHabit(), JULY, "Europe/Zurich") == ()
    assert learnt_windows(learnt({8}, days=0), JULY, "Europe/Zurich") == ()
    assert learnt_windows(learnt(set()), JULY, "Europe/Zurich") == ()


def in_parts(runs: Callable[[datetime], bool]) -> FlowHabit:
    """The habit of a pump of which a week was seen, the last minute of it now."""
    habit, flowed = FlowHabit.assumed(9.0), False
    for minute in range(7 * 1440 + 1):
        utc = JULY - timedelta(days=7) + timedelta(minutes=minute)
        habit = habit.stopped(utc) if flowed and not runs(utc) else habit
        flowed = runs(utc)
        habit = habit.watched(utc, 60.0, flowed)
    return habit


def test_a_pump_that_blinks_once_an_hour_runs_round_the_clock() -> None:
    stops = in_parts(lambda utc: utc.minute >= 40)
    assert learnt_windows(replace(stops, share=(0.996,) * 24), JULY, "Europe/Zurich") == ((0.0, 24.0),)


def test_a_pump_that_runs_a_part_of_each_hour_is_rehearsed_with_that_part() -> None:
    """20 minutes of each hour, or of each by day, were taken for a pump that stands still."""
    windows = learnt_windows(in_parts(lambda utc: utc.minute >= 40), JULY, "Europe/Zurich")
    assert len(windows) == 24
    assert sum(to_h - from_h for from_h, to_h in windows) == pytest.approx(8.0, rel=0.1)
    by_day = learnt_windows(in_parts(lambda utc: 8 <= utc.hour < 20 and utc.minute < 20), JULY, "Europe/Zurich")
    assert [from_h for from_h, _ in by_day] == [float(hour) for hour in range(10, 22)]
    assert sum(to_h - from_h for from_h, to_h in by_day) == pytest.approx(4.0, rel=0.1)
