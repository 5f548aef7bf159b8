"""What all guards lean on: a memory over a restart, the first reason of a latch, an OFF that nobody confirms."""

from dataclasses import replace

import pytest

from dosectl.core.interlocks.answers import latch
from dosectl.core.interlocks.dispatch import REPEAT_OFF_S, UNMETERED_OFF_REPEATS, Dispatch, asked_off, asked_on
from dosectl.core.interlocks.guard import FRESH, Memory, memory_key
from dosectl.core.interlocks.inheriting import inherited
from dosectl.core.interlocks.registry import build
from dosectl.model.reasons import Code, Reason
from tests.builders import CELL, CLOCK_S, a_site, an_instant

FIRST, SECOND = (Reason(Code(code), (), an_instant()) for code in ("first.reason", "second.reason"))


def test_after_a_restart_timers_prove_anew_and_latches_counts_and_marks_stand() -> None:
    memory = Memory(since_s=1.0, until_s=2.0, latched=FIRST, count=3, marks=(4.0,), recent=(5.0,))
    assert memory.restarted() == Memory(latched=FIRST, count=3, marks=(4.0,))


def test_a_latch_keeps_the_reason_that_latched_first() -> None:
    _, memory = latch(Code("a.guard"), FRESH, FIRST)
    denial, again = latch(Code("a.guard"), memory, SECOND)
    assert again.latched == FIRST
    assert denial.why == FIRST
    assert denial.latched


@pytest.mark.parametrize(("running", "said"), [(None, UNMETERED_OFF_REPEATS), (True, 20), (False, 1)])
def test_an_off_is_repeated_until_feedback_agrees_and_three_times_where_nothing_is_known(running: bool | None, said: int) -> None:
    dispatch = asked_on(Dispatch(CELL), CLOCK_S, 1.0, 10.0)
    count = 0
    for second in range(20):
        dispatch, now = asked_off(dispatch, CLOCK_S + second * REPEAT_OFF_S, running)
        count += now
    assert count == said
    assert replace(dispatch, off_count=0).asked_on is False


def test_an_heir_that_has_a_memory_of_its_own_takes_over_the_latch_of_one_whose_feeder_left() -> None:
    site = a_site()
    guards = build(site)
    heir = next(guard for guard in guards if guard.code == "lockout.both")
    gone = f"{heir.code}:{CELL},a_feeder_that_left"
    kept = {memory_key(heir): Memory(count=2, marks=(7.0,)), gone: Memory(latched=FIRST, count=9)}
    assert inherited(guards, kept)[memory_key(heir)] == Memory(latched=FIRST, count=2, marks=(7.0,))
