"""The hours of flow, learnt."""

from collections.abc import Callable
from datetime import UTC, datetime, timedelta

import pytest

from dosectl.core.control import FlowHabit
from dosectl.store.durable import PartCodec

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
    assert habit.expected(MIDNIGHT)[12] == 1.0
    assert habit.expected(MIDNIGHT)[0] == 0.0
    assert 8.0 <= habit.daily_h <= 14.0
    start = datetime(2026, 6, 1, 0, 0, tzinfo=UTC)
    for minute in range(25 * 60):
        utc = start + timedelta(minutes=minute)
        habit = habit.watched(utc, 60.0, utc.hour in (0, 1, 2))  # a pump that runs at night
    assert habit.expected(utc)[1] == 1.0
    assert habit.expected(utc)[3] == 0.0


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


WINDOWS = {  # hours of the day at which a pump stops, by its windows a day
    1: (20.0,),
    2: (12.0, 21.0),
    3: (9.5, 14.5, 21.0),
    4: (7.5, 13.0, 17.5, 22.0),
    8: (1.5, 4.5, 7.5, 10.5, 13.5, 16.5, 19.5, 22.5),
}


def at(day: int, hour: float) -> datetime:
    return datetime(2026, 6, 1, tzinfo=UTC) + timedelta(days=day, hours=hour)


def stopping(habit: FlowHabit, days: range, hours: tuple[float, ...]) -> FlowHabit:
    for day in days:
        for hour in hours:
            habit = habit.stopped(at(day, hour))
    return habit


def foreseen(habit: FlowHabit, day: int, hour: float) -> bool:
    return habit.stops_soon(at(day, hour) - timedelta(minutes=2))


@pytest.mark.parametrize("windows", list(WINDOWS))
def test_each_windows_stop_is_learnt_in_two_days_however_many_there_are(windows: int) -> None:
    hours = WINDOWS[windows]
    habit = stopping(FlowHabit(), range(1), hours)
    for hour in hours:
        assert not foreseen(habit, 1, hour)
        habit = habit.stopped(at(1, hour))
    for day in range(2, 12):
        for hour in hours:
            assert foreseen(habit, day, hour), f"day {day}, {hour} h"
            habit = habit.stopped(at(day, hour))


@pytest.mark.parametrize("windows", list(WINDOWS))
def test_a_window_that_was_given_up_is_forgotten_after_four_days_at_the_latest(windows: int) -> None:
    *others, given_up = WINDOWS[windows]
    habit = stopping(FlowHabit(), range(10), WINDOWS[windows])
    left = tuple(others) or (18.0,)  # a single window that is moved
    assert not foreseen(stopping(habit, range(10, 14), left), 14, given_up)
    if windows > 1:
        assert not foreseen(stopping(habit, range(10, 13), left), 13, given_up)


@pytest.mark.parametrize("windows", list(WINDOWS))
def test_one_day_without_a_stop_does_not_unlearn_it(windows: int) -> None:
    *others, skipped = WINDOWS[windows]
    habit = stopping(stopping(FlowHabit(), range(10), WINDOWS[windows]), range(10, 11), tuple(others))
    assert foreseen(habit, 11, skipped)


def test_a_flow_switch_that_flaps_does_not_fill_the_record() -> None:
    habit = FlowHabit()
    for minute in range(3 * 1440):
        habit = habit.stopped(at(0, minute / 60.0))
    assert len(habit.stops_s) == len(habit.stops_day) <= 36


def test_a_clock_that_once_was_years_ahead_costs_no_more_than_days() -> None:
    habit = stopping(FlowHabit(), range(3650, 3653), WINDOWS[3])
    habit = stopping(habit, range(3), WINDOWS[3])
    assert all(foreseen(habit, 3, hour) for hour in WINDOWS[3])
    assert len(habit.stops_s) == 9


def test_a_record_of_stops_without_their_days_is_read_and_goes_on() -> None:
    codec = PartCodec(FlowHabit)
    now = codec.encode(FlowHabit(stops_s=(72000.0, 72010.0, 72005.0, 71990.0, 72000.0)))
    before = now.replace(b',"stops_day":[]', b"")
    assert b"stops_day" not in before
    habit = codec.decode(before)
    assert foreseen(habit, 0, 20.0)
    habit = habit.stopped(at(0, 20.0))
    assert foreseen(habit, 1, 20.0)
    assert len(habit.stops_s) == len(habit.stops_day) == 5
    assert codec.decode(codec.encode(habit)) == habit
    assert all(foreseen(stopping(habit, range(1, 3), WINDOWS[4]), 3, hour) for hour in WINDOWS[4])


def pumped(*spells: tuple[int, Callable[[datetime], bool]]) -> FlowHabit:
    """The habit of a new pool after so many days of each: whether its pump runs in a minute."""
    habit, flowed, minute = FlowHabit.assumed(0.0), False, 0
    for days, runs in spells:
        for _ in range(days * 1440):
            utc = MIDNIGHT + timedelta(minutes=minute)
            habit = habit.stopped(utc) if flowed and not runs(utc) else habit
            flowed = runs(utc)
            habit = habit.watched(utc, 60.0, flowed)
            minute += 1
    return habit


@pytest.mark.parametrize(("from_min", "to_min"), [(40, 60), (0, 20), (30, 55)])
def test_a_pump_that_runs_a_part_of_each_hour_has_no_pause_of_a_day(from_min: int, to_min: int) -> None:
    """20 minutes of each hour: a pause of 24 h was expected, and the pool fed for it, to 190 % of its target."""
    habit = pumped((6, lambda utc: from_min <= utc.minute < to_min))
    for hour in range(24):
        utc = MIDNIGHT + timedelta(days=6, hours=hour, minutes=from_min + 5)
        assert habit.ahead(utc) == (24.0, 0.0)
        assert habit.part(utc) == pytest.approx((to_min - from_min) / 60.0, rel=0.15)


def test_a_short_run_once_a_day_is_followed_by_a_pause() -> None:
    habit = pumped((8, lambda utc: utc.hour == 9 and utc.minute < 25))
    left_h, pause_h = habit.ahead(MIDNIGHT + timedelta(days=8, hours=9, minutes=15))
    assert left_h == pytest.approx(0.75)
    assert pause_h >= 23.0


def test_a_pump_that_runs_a_part_of_each_hour_by_day_has_the_nights_pause() -> None:
    habit = pumped((8, lambda utc: 8 <= utc.hour < 20 and utc.minute < 20))
    left_h, pause_h = habit.ahead(MIDNIGHT + timedelta(days=8, hours=18, minutes=10))
    assert (left_h, pause_h) == (pytest.approx(2.0 - 1.0 / 6.0), 12.0)


@pytest.mark.parametrize("days_off", [2, 4, 30])
def test_a_pump_that_stands_still_is_not_expected_to_run_on(days_off: int) -> None:
    """Its hours fade alike, and the largest share of them is never far above the others."""
    habit = pumped((6, lambda utc: 8 <= utc.hour < 20), (days_off, lambda _: False))
    utc = MIDNIGHT + timedelta(days=6 + days_off, hours=10)
    assert habit.part(utc) == 1.0
    assert habit.ahead(utc) == (pytest.approx(1.0), 24.0)
    assert not any(habit.expected(utc))


THIRD = 20.0 / 60.0


def a_third(utc: datetime) -> bool:
    return utc.minute < 20


def by_hand(utc: datetime) -> bool:
    """A third of each hour, and all of one, as for a backwash."""
    return a_third(utc) or utc.hour == 10


def all_day(_utc: datetime) -> bool:
    return True


def half(utc: datetime) -> bool:
    return utc.minute >= 30


def part_and_whole(utc: datetime) -> bool:
    """All of nine hours, ten minutes of the others."""
    return 9 <= utc.hour < 18 or utc.minute < 10


@pytest.mark.parametrize("days", [1, 2, 3, 5])
@pytest.mark.parametrize("then", [by_hand, all_day])
def test_an_hour_by_hand_or_a_pump_that_runs_on_makes_no_pause_of_the_others(then: Callable[[datetime], bool], days: int) -> None:
    """A share of 0.53 in one hour made all others hours of rest: 21 h of pause were foreseen and fed for, to twice the target."""
    habit = pumped((10, a_third), (days, then))
    for hour in (0, 9, 11):
        assert habit.ahead(MIDNIGHT + timedelta(days=10 + days, hours=hour, minutes=5)) == (24.0, 0.0)


@pytest.mark.parametrize(("runs", "least_h"), [(half, 12.0), (part_and_whole, 11.5)])
def test_parts_of_half_an_hour_and_parts_beside_whole_hours_are_hours_of_flow(
    runs: Callable[[datetime], bool], least_h: float
) -> None:
    """Shares about a half, or some of one: a pause of 14 h was foreseen."""
    habit = pumped((10, runs))
    utc = MIDNIGHT + timedelta(days=10, minutes=35)
    assert habit.ahead(utc) == (24.0, 0.0)
    assert sum(habit.expected(utc)) == pytest.approx(least_h, rel=0.05)
    assert habit.part(utc + timedelta(hours=12)) == pytest.approx(0.5 if runs is half else 1.0, abs=0.05)


@pytest.mark.parametrize("begins_h", [(2.55, 10.55, 18.55), (0.6, 6.6, 12.6, 18.6)])
def test_windows_that_lie_across_the_hours_are_flow(begins_h: tuple[float, ...]) -> None:
    """Three windows of 54 minutes, 0.45 of each hour: no flow at all was expected, and fed for, to twice the target."""
    habit = pumped((10, lambda utc: any(begin <= utc.hour + utc.minute / 60.0 < begin + 0.9 for begin in begins_h)))
    for days in (10.0, 10.7):
        utc = MIDNIGHT + timedelta(days=days)
        shares = habit.expected(utc)
        assert sum(share > 0.0 for share in shares) == 2 * len(begins_h)
        assert sum(shares) == pytest.approx(0.9 * len(begins_h), rel=0.1)


def test_a_new_pool_that_runs_in_one_window_is_told_by_whole_hours() -> None:
    """What is assumed of hours that were not seen yet, 0.4 and 0.6, was taken for parts."""
    habit = pumped((1, lambda utc: utc.hour >= 17 or utc.hour < 3))
    assert set(habit.expected(MIDNIGHT + timedelta(days=1))) <= {0.0, 1.0}
    assert habit.part(MIDNIGHT + timedelta(days=1, hours=18)) == 1.0


def test_five_windows_are_told_alike_at_each_hour_of_the_day() -> None:
    """Five stops and that of the day before, to the second, were six at some hours: hours of flow came and went."""
    habit = pumped((10, lambda utc: (utc.hour * 60 + utc.minute + 25) % 288 < 50))
    told = {habit.expected(MIDNIGHT + timedelta(days=10, hours=hour)) for hour in range(20)}
    assert len(told) == 1


def test_a_timer_by_day_instead_of_parts_is_learnt_in_days() -> None:
    habit = pumped((10, a_third), (4, lambda utc: 8 <= utc.hour < 20))
    assert habit.ahead(MIDNIGHT + timedelta(days=14, hours=12)) == (pytest.approx(8.0), 12.0)
