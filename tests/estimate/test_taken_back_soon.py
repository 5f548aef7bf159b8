"""A slip of chlorine that is withdrawn is gone, whatever came in between.

Who enters an odd figure checks the probe, and then sees the slip. Where a slip of 9 mg/L stays believed, the pool gets nothing
for days; where one is taken off twice, it is fed.
"""

from collections.abc import Callable
from dataclasses import replace

import pytest

from dosectl.core.estimate.new_probe import with_new_probes
from dosectl.model.signals import SignalKind
from dosectl.model.water_tests import Quantity, WaterTest
from tests.estimate.test_estimate import PARAMS, Watched, hand_test, pool_after_a_test

ORP, NONE = frozenset({SignalKind.ORP}), frozenset[SignalKind]()


def _check(watched: Watched, _: WaterTest) -> None:
    watched.estimate = with_new_probes(watched.estimate, PARAMS, NONE, ORP)


def _replace(watched: Watched, _: WaterTest) -> None:
    watched.estimate = with_new_probes(watched.estimate, PARAMS, ORP, NONE)


def _power_cut(watched: Watched, _: WaterTest) -> None:
    watched.pool.now_s += 2400.0


def _withdraw_another(watched: Watched, old: WaterTest) -> None:
    watched.step(replace(old, withdrawn=True))


def slips(value: float, between: Callable[[Watched, WaterTest], None]) -> tuple[float, Watched]:
    """What was believed before a slip, and the pool after it was believed for a quarter of an hour and withdrawn."""
    watched = pool_after_a_test()
    old = watched.estimate.tests[0]
    watched.run(72.0)
    before = watched.view.free_chlorine_mg_l
    slip = hand_test(watched.pool, Quantity.FREE_CHLORINE, value, 0.25, "slip")
    watched.step(slip)
    assert "slip" not in watched.estimate.doubted
    assert abs(watched.view.free_chlorine_mg_l - before) > 0.5 * abs(value - before)
    watched.run(0.1)
    between(watched, old)
    watched.run(0.1)
    watched.step(replace(slip, withdrawn=True))
    return before, watched


@pytest.mark.parametrize("value", [9.0, 0.5])
@pytest.mark.parametrize("between", [_check, _replace, _power_cut, _withdraw_another])
def test_it_is_gone_whatever_came_in_between(between: Callable[[Watched, WaterTest], None], value: float) -> None:
    before, watched = slips(value, between)
    assert watched.view.free_chlorine_mg_l == pytest.approx(before, rel=0.2)
    assert watched.view.low95_mg_l < watched.pool.free_mg_l < watched.view.high95_mg_l
    watched.run(24.0)
    assert watched.view.low95_mg_l < watched.pool.free_mg_l < watched.view.high95_mg_l


@pytest.mark.parametrize("order", [("first", "second"), ("second", "first")])
@pytest.mark.parametrize("days", [1.0, 3.0, 7.0])
def test_two_slips_that_confirmed_each_other_are_gone_in_whatever_order(order: tuple[str, str], days: float) -> None:
    watched = pool_after_a_test()
    watched.run(24.0)
    entered: dict[str, WaterTest] = {}
    for name in ("first", "second"):
        entered[name] = hand_test(watched.pool, Quantity.FREE_CHLORINE, 20.0, 0.25, name)
        watched.step(entered[name])
        if name == "first":
            assert "first" in watched.estimate.doubted
            watched.run(24.0 * days)
    assert "second" not in watched.estimate.doubted
    watched.run(0.2)
    watched.step(replace(entered[order[0]], withdrawn=True))
    watched.run(0.1)
    watched.step(replace(entered[order[1]], withdrawn=True))
    watched.run(0.5)
    assert watched.view.free_chlorine_mg_l == pytest.approx(watched.pool.free_mg_l, rel=0.35)


@pytest.mark.parametrize("days", [1.0, 3.0])
def test_what_only_a_withdrawn_slip_confirmed_is_doubted_again(days: float) -> None:
    watched = pool_after_a_test()
    watched.run(24.0)
    first = hand_test(watched.pool, Quantity.FREE_CHLORINE, 20.0, 0.25, "first")
    watched.step(first)
    watched.run(24.0 * days)
    watched.step(hand_test(watched.pool, Quantity.FREE_CHLORINE, 20.0, 0.25, "second"))
    assert "second" not in watched.estimate.doubted
    watched.run(0.2)
    watched.step(replace(first, withdrawn=True))
    assert "second" in watched.estimate.doubted
    assert watched.view.free_chlorine_mg_l < 6.0


def _nothing(_: Watched, __: WaterTest) -> None:
    pass


def entered(watched: Watched, value: float, name: str) -> WaterTest:
    test = hand_test(watched.pool, Quantity.FREE_CHLORINE, value, 0.25 if value > 1.0 else 0.1, name)
    watched.step(test)
    return test


def two_slips(value: float, days: float, seed: int = 1) -> tuple[Watched, WaterTest, WaterTest]:
    """Two that say the same: the first is doubted, the second believed for it."""
    watched = pool_after_a_test(seed)
    watched.run(24.0)
    first = entered(watched, value, "first")
    assert "first" in watched.estimate.doubted
    watched.run(24.0 * days)
    second = entered(watched, value, "second")
    assert "second" not in watched.estimate.doubted
    watched.run(0.2)
    return watched, first, second


BETWEEN = [_nothing, _check, _replace, _power_cut]


@pytest.mark.parametrize("seed", [1, 2, 3])
@pytest.mark.parametrize("days", [0.05, 3.0])
@pytest.mark.parametrize("between", BETWEEN)
def test_two_slips_are_gone_whatever_came_between_their_withdrawals(
    between: Callable[[Watched, WaterTest], None], days: float, seed: int
) -> None:
    """The step of the second, gone with the first, was taken off once more: 0.26 believed at a true 2."""
    watched, first, second = two_slips(20.0, days, seed)
    watched.step(replace(first, withdrawn=True))
    watched.run(0.2)
    between(watched, first)
    watched.run(0.1)
    watched.step(replace(second, withdrawn=True))
    for _ in range(3):
        assert watched.view.free_chlorine_mg_l == pytest.approx(watched.pool.free_mg_l, rel=0.35)
        watched.run(24.0)


@pytest.mark.parametrize("days", [1.0, 3.0])
@pytest.mark.parametrize("between", BETWEEN)
def test_what_only_a_withdrawn_slip_confirmed_is_doubted_whatever_came_in_between(
    between: Callable[[Watched, WaterTest], None], days: float
) -> None:
    """19 mg/L stood believed at a true 2 where the probe had been checked, and nothing was fed for days."""
    watched, first, _ = two_slips(20.0, days)
    between(watched, first)
    watched.run(0.1)
    watched.step(replace(first, withdrawn=True))
    assert "second" in watched.estimate.doubted
    assert watched.view.free_chlorine_mg_l == pytest.approx(watched.pool.free_mg_l, rel=0.35)


@pytest.mark.parametrize("value", [6.0, 0.1])
def test_a_slip_in_the_step_that_withdraws_an_older_test_can_be_withdrawn_as_well(value: float) -> None:
    """5.8 stood believed at a true 2.1, and the pool was near nothing for three days."""
    watched = pool_after_a_test()
    old = watched.estimate.tests[0]
    watched.run(72.0)
    slip = hand_test(watched.pool, Quantity.FREE_CHLORINE, value, 0.25 if value > 1.0 else 0.1, "slip")
    slip = replace(slip, taken_s=watched.pool.now_s + 60.0, entered_s=watched.pool.now_s + 60.0)
    watched.step(replace(old, withdrawn=True), slip)
    watched.run(0.2)
    assert abs(watched.view.free_chlorine_mg_l - value) < 0.3 * value + 0.3
    watched.step(replace(slip, withdrawn=True))
    assert watched.view.free_chlorine_mg_l == pytest.approx(watched.pool.free_mg_l, rel=0.35)


@pytest.mark.parametrize("seed", [1, 3, 4])
@pytest.mark.parametrize("between", BETWEEN)
def test_a_good_second_sample_that_was_typed_in_late_stays(between: Callable[[Watched, WaterTest], None], seed: int) -> None:
    """Slip, second sample, probe checked, slip withdrawn: 0.56 was believed at a true 2.1."""
    watched = pool_after_a_test(seed)
    watched.run(72.0)
    slip = entered(watched, 9.0, "slip")
    watched.run(0.5)
    right = hand_test(watched.pool, Quantity.FREE_CHLORINE, watched.pool.free_mg_l, 0.25, "right")
    watched.run(0.4)
    watched.step(right)
    watched.run(0.2)
    between(watched, slip)
    watched.run(0.1)
    watched.step(replace(slip, withdrawn=True))
    assert "right" not in watched.estimate.doubted
    assert watched.view.free_chlorine_mg_l == pytest.approx(watched.pool.free_mg_l, rel=0.1)
    assert watched.estimate.tested_s == right.taken_s


@pytest.mark.parametrize("days", [5.0, 12.0])
def test_a_slip_of_many_days_ago_leaves_nothing_behind(days: float) -> None:
    """Its chlorine is long gone, but the electrode was learnt beside it."""
    clean, sorry = (pool_after_a_test(5) for _ in range(2))
    for watched in (clean, sorry):
        watched.run(48.0)
    slip = entered(sorry, 1.4, "slip")
    clean.step()
    assert "slip" not in sorry.estimate.doubted
    for watched in (clean, sorry):
        watched.run(24.0 * days)
    sorry.step(replace(slip, withdrawn=True))
    clean.step()
    assert sorry.view.orp_offset_mv == pytest.approx(clean.view.orp_offset_mv, abs=2.0)
    assert sorry.view.free_chlorine_mg_l == pytest.approx(clean.view.free_chlorine_mg_l, rel=0.1)


def after_three_weeks_off() -> Watched:
    watched = pool_after_a_test(3)
    watched.pool.now_s += 21 * 86400.0
    watched.pool.free_mg_l = 1.0
    watched.run(0.5)
    return watched


def test_a_slip_of_the_time_off_is_gone_when_it_is_withdrawn() -> None:
    """After three weeks off 150 mg/L of stabiliser stayed believed: the test had left the record within the hour."""
    clean, sorry = after_three_weeks_off(), after_three_weeks_off()
    slip = hand_test(sorry.pool, Quantity.STABILISER, 150.0, 8.0, "slip")
    slip = replace(slip, taken_s=slip.taken_s - 20 * 3600.0)
    sorry.step(slip)
    clean.step()
    assert sorry.view.cya_mg_l > 100.0
    for watched in (clean, sorry):
        watched.run(2.2)
    sorry.step(replace(slip, withdrawn=True))
    clean.step()
    assert sorry.view.cya_mg_l == pytest.approx(clean.view.cya_mg_l, abs=2.0)


def test_a_good_test_of_the_time_off_is_not_lost_with_another_that_is_withdrawn() -> None:
    watched = after_three_weeks_off()
    good = hand_test(watched.pool, Quantity.STABILISER, 20.0, 4.0, "good")
    watched.step(replace(good, taken_s=good.taken_s - 20 * 3600.0))
    watched.run(0.1)
    twice = entered(watched, 1.05, "twice")
    watched.run(24.0)
    before = watched.view.cya_mg_l
    assert before < 30.0
    watched.step(replace(twice, withdrawn=True))
    assert watched.view.cya_mg_l == pytest.approx(before, abs=2.0)


def test_a_slip_of_before_the_first_hour_is_gone_when_it_is_withdrawn() -> None:
    watched = pool_after_a_test(3, hours=2.0)
    watched.estimate = replace(watched.estimate, tests=(), tested_s=None)
    before = watched.view.free_chlorine_mg_l
    slip = hand_test(watched.pool, Quantity.FREE_CHLORINE, 9.0, 0.25, "slip")
    slip = replace(slip, taken_s=watched.estimate.history[0].start_s - 3600.0)
    watched.step(slip)
    watched.run(1.2)
    assert watched.view.free_chlorine_mg_l > 1.5 * before
    watched.step(replace(slip, withdrawn=True))
    assert watched.view.free_chlorine_mg_l < 1.3 * before
    assert watched.estimate.tested_s is None


def test_a_drift_that_a_slip_taught_goes_with_it_though_others_came_after() -> None:
    """35 mV a root day stood, at which an electrode is hardly believed, for some four weekly tests."""
    watched = pool_after_a_test(5)
    watched.run(48.0)
    before = watched.estimate.drift_mv_sqrt_day
    slip = entered(watched, 0.1, "slip")
    watched.run(1.0)
    for name in ("true", "again"):
        entered(watched, watched.pool.free_mg_l, name)
        watched.run(0.5)
    taught = watched.estimate.drift_mv_sqrt_day
    assert taught is not None
    assert taught > 20.0
    watched.step(replace(slip, withdrawn=True))
    assert watched.estimate.drift_mv_sqrt_day == before
    again = next(t for t in watched.estimate.tests if t.request == "again")
    watched.step(replace(again, withdrawn=True))
    assert watched.estimate.drift_mv_sqrt_day == before
