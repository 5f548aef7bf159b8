"""Who tests each week is believed with the second test that says the same: a doubted one is not forgotten after two days."""

from dataclasses import replace

import pytest

from dosectl.core.estimate.new_probe import with_new_probes
from dosectl.core.estimate.state import Electrode
from dosectl.model.requests import RequestId
from dosectl.model.signals import SignalKind
from dosectl.model.water_tests import Quantity, WaterTest
from tests.estimate.test_estimate import PARAMS, Watched, hand_test, pool_after_a_test


def tells(watched: Watched, name: str, times: float) -> WaterTest:
    """A test that finds so many times what is there, as beside a belief that is far off."""
    return hand_test(watched.pool, Quantity.FREE_CHLORINE, times * watched.pool.free_mg_l, 0.25, name)


def named(watched: Watched, name: str) -> WaterTest:
    return next(test for test in watched.estimate.tests if test.request == name)


def after_a_doubted_test(days: float = 7.0) -> Watched:
    watched = pool_after_a_test()
    watched.step(tells(watched, "first", 10.0))
    assert "first" in watched.estimate.doubted
    watched.run(24.0 * days)
    return watched


def believes_the_second(watched: Watched) -> None:
    second = tells(watched, "second", 10.0)
    watched.step(second)
    assert "second" not in watched.estimate.doubted
    assert abs(watched.view.free_chlorine_mg_l - second.value) < 0.2 * second.value


def test_the_second_weekly_test_that_says_the_same_is_believed() -> None:
    believes_the_second(after_a_doubted_test())


def test_one_that_is_typed_in_a_day_late_is_believed_as_well() -> None:
    watched = after_a_doubted_test()
    late = tells(watched, "late", 10.0)
    watched.run(20.0)
    watched.step(late)
    assert "late" not in watched.estimate.doubted


def test_another_slip_that_says_something_else_is_not() -> None:
    watched = after_a_doubted_test()
    watched.step(tells(watched, "other", 0.1))
    assert "other" in watched.estimate.doubted


def test_a_believed_test_between_them_ends_the_wait() -> None:
    watched = after_a_doubted_test(3.0)
    watched.step(tells(watched, "good", 1.0))
    assert "good" not in watched.estimate.doubted
    watched.run(24.0 * 4.0)
    watched.step(tells(watched, "slip", 10.0))
    assert "slip" in watched.estimate.doubted


def test_after_a_fortnight_it_waits_no_more() -> None:
    watched = after_a_doubted_test(16.0)
    watched.step(tells(watched, "slip", 10.0))
    assert "slip" in watched.estimate.doubted


def test_a_withdrawn_slip_confirms_nothing() -> None:
    watched = after_a_doubted_test()
    watched.step(replace(named(watched, "first"), withdrawn=True))
    watched.step(replace(tells(watched, "slip", 10.0), request=RequestId("slip")))
    assert "slip" in watched.estimate.doubted


def test_a_believed_test_settles_it_at_once() -> None:
    """Slip, right figure, the same slip a day later: the second slip was taken for a confirmation of the first."""
    for times in (0.13, 10.0):
        watched = pool_after_a_test()
        watched.step(tells(watched, "first", times))
        watched.run(72.0)
        watched.step(tells(watched, "good", 1.0))
        watched.run(24.0)
        watched.step(tells(watched, "again", times))
        assert "good" not in watched.estimate.doubted
        assert "again" in watched.estimate.doubted


def test_half_an_hour_without_power_does_not_end_the_wait() -> None:
    watched = pool_after_a_test()
    watched.step(tells(watched, "first", 10.0))
    watched.run(1.0)
    watched.pool.now_s += 7200.0
    watched.run(24.0 * 7.0)
    believes_the_second(watched)


def test_neither_does_an_electrode_that_starts_over() -> None:
    watched = pool_after_a_test()
    watched.step(tells(watched, "first", 10.0))
    watched.orp_shift_mv = -150.0
    watched.run(24.0)
    assert any(hour.broken is not None and hour.broken.electrode is Electrode.MOVED for hour in watched.estimate.history)
    watched.run(24.0 * 6.0)
    believes_the_second(watched)


@pytest.mark.parametrize("new", [True, False])
def test_neither_does_an_electrode_that_was_replaced_or_checked(new: bool) -> None:
    watched = pool_after_a_test()
    watched.step(tells(watched, "first", 10.0))
    kinds, none = frozenset({SignalKind.ORP}), frozenset[SignalKind]()
    watched.estimate = with_new_probes(watched.estimate, PARAMS, kinds if new else none, none if new else kinds)
    watched.run(24.0 * 3.0)
    believes_the_second(watched)


def test_neither_does_an_old_test_that_is_taken_back() -> None:
    watched = pool_after_a_test()
    old = watched.estimate.tests[0]
    watched.run(96.0)
    watched.step(tells(watched, "first", 10.0))
    watched.run(1.0)
    watched.step(replace(old, withdrawn=True))
    watched.run(24.0 * 3.0)
    believes_the_second(watched)


def test_neither_does_a_believed_test_of_something_else() -> None:
    watched = after_a_doubted_test(3.0)
    watched.step(hand_test(watched.pool, Quantity.STABILISER, 50.0, 6.0, "stabiliser"))
    assert "stabiliser" not in watched.estimate.doubted
    watched.run(24.0 * 4.0)
    believes_the_second(watched)


def test_nor_many_doubted_tests_of_ph() -> None:
    watched = after_a_doubted_test(3.0)
    for count in range(120):
        watched.step(hand_test(watched.pool, Quantity.PH, 4.0, 0.1, f"ph {count}"))
    watched.run(2.0)
    assert "ph 119" in watched.estimate.doubted
    assert len(watched.estimate.doubted) < 30
    watched.run(24.0 * 4.0)
    believes_the_second(watched)


def test_a_weekly_test_that_was_forgotten_once_comes_in_time() -> None:
    believes_the_second(after_a_doubted_test(14.0))


@pytest.mark.parametrize(("times", "believed"), [(10.0, True), (15.0, True), (30.0, False), (5.5, False)])
def test_after_a_week_it_may_say_half_as_much_again_and_no_more(times: float, believed: bool) -> None:
    watched = after_a_doubted_test()
    first = named(watched, "first")
    watched.step(replace(tells(watched, "second", 1.0), value=first.value * times / 10.0))
    assert ("second" not in watched.estimate.doubted) is believed


def test_neither_does_an_older_test_that_is_typed_in_late() -> None:
    watched = pool_after_a_test()
    old = tells(watched, "old", 1.0)
    watched.run(60.0)
    watched.step(tells(watched, "first", 10.0))
    watched.run(72.0)
    watched.step(old)
    assert "old" not in watched.estimate.doubted
    watched.run(72.0)
    believes_the_second(watched)
