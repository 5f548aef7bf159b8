"""A slip of chlorine that is withdrawn at once is gone at once, also where the stored hours were lost in between.

Who enters an odd figure checks the probe, and then sees the slip. Where a slip of 9 mg/L
stays believed, the pool gets nothing for days.
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
def test_it_is_gone_though_the_stored_hours_were_lost(between: Callable[[Watched, WaterTest], None], value: float) -> None:
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
