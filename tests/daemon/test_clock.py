"""Clocks: the tick clock moves on ticks alone; the system clock's durations survive a set wall clock."""

from datetime import UTC, datetime

import pytest

from dosectl.daemon.clock import SystemClock, TickClock

MOMENT = datetime(2026, 7, 11, 6, 0, tzinfo=UTC)


def test_the_tick_clock_stands_still_between_ticks() -> None:
    clock = TickClock("b")
    assert not clock.started()
    clock.advance(3.0, MOMENT)
    assert clock.now() == clock.now()
    assert clock.started()
    assert clock.now().mono_s == 3.0


def test_a_tick_that_goes_back_is_refused() -> None:
    clock = TickClock("b")
    clock.advance(6.0, MOMENT)
    clock.advance(6.0, MOMENT)  # the same tick again: the pool asked twice
    with pytest.raises(ValueError, match="went back"):
        clock.advance(3.0, MOMENT)


def test_the_system_clock_counts_forward_in_one_boot() -> None:
    clock = SystemClock()
    first, second = clock.now(), clock.now()
    assert second.since_s(first) >= 0.0
    assert first.boot == second.boot
    assert first.utc.tzinfo is UTC
    assert isinstance(clock.trusted(), bool)
