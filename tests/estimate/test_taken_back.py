"""A test that is withdrawn is as if it had never been: of whatever quantity, however late, through a new probe in between."""

from dataclasses import replace

import pytest

from dosectl.core.estimate import EstimateInputs, update
from dosectl.core.estimate.filters import var_of
from dosectl.core.estimate.state import OFFSET
from dosectl.model.signals import SignalKind
from dosectl.model.water_tests import Quantity, WaterTest
from tests.estimate.test_estimate import PARAMS, PLANT, Watched, hand_test, pool_after_a_test


def pair(test: WaterTest, hours: float, new_probe: SignalKind | None = None) -> tuple[Watched, Watched, Watched]:
    """Three alike pools: one without the test, one that keeps it, one in which it is withdrawn after some hours."""
    clean, kept, sorry = (pool_after_a_test(5) for _ in range(3))
    clean.step()
    kept.step(test)
    sorry.step(test)
    for watched in (clean, kept, sorry):
        watched.run(0.5 * hours)
        if new_probe is not None:
            _replace_probe(watched, new_probe)
        watched.run(0.5 * hours)
    clean.step()
    kept.step()
    sorry.step(replace(test, withdrawn=True))
    for watched in (clean, kept, sorry):
        watched.run(2.0)
    return clean, kept, sorry


def _replace_probe(watched: Watched, kind: SignalKind) -> None:
    pool = watched.pool
    inputs = EstimateInputs(pool.now_s, pool.utc, 0.0, None, None, 0.05, None, 0.0, (), replaced=frozenset({kind}))
    watched.estimate = update(PLANT, PARAMS, watched.estimate, inputs)


@pytest.mark.parametrize("hours", [2.0, 60.0])
def test_a_slip_of_ph_is_taken_back_with_the_offset_it_taught(hours: float) -> None:
    clean, kept, sorry = pair(hand_test(pool_after_a_test(5).pool, Quantity.PH, 8.2, 0.15, "slip"), hours)
    assert abs(kept.view.ph - clean.view.ph) > 0.1
    assert sorry.view.ph == pytest.approx(clean.view.ph, abs=0.02)
    assert sorry.estimate.ph[1] == pytest.approx(clean.estimate.ph[1], abs=0.02)
    assert sorry.view.ph_sigma >= 0.95 * clean.view.ph_sigma


@pytest.mark.parametrize("hours", [2.0, 60.0])
def test_a_slip_of_alkalinity_is_taken_back(hours: float) -> None:
    clean, kept, sorry = pair(hand_test(pool_after_a_test(5).pool, Quantity.ALKALINITY, 180.0, 10.0, "slip"), hours)
    assert abs(kept.view.alkalinity_mg_l - clean.view.alkalinity_mg_l) > 20.0
    assert sorry.view.alkalinity_mg_l == pytest.approx(clean.view.alkalinity_mg_l, abs=2.0)
    assert sorry.view.alkalinity_sigma >= 0.95 * clean.view.alkalinity_sigma


@pytest.mark.parametrize("hours", [2.0, 40.0, 60.0])
@pytest.mark.parametrize("new_probe", [None, SignalKind.ORP])
def test_a_slip_of_stabiliser_is_taken_back_however_late_and_through_a_new_electrode(
    hours: float, new_probe: SignalKind | None
) -> None:
    slip = hand_test(pool_after_a_test(5).pool, Quantity.STABILISER, 90.0, 8.0, "slip")
    clean, kept, sorry = pair(slip, hours, new_probe)
    moved = abs(kept.view.cya_mg_l - clean.view.cya_mg_l)
    assert moved > 15.0
    # Not to nothing: an hour of a new electrode's readings was weighed against the slip.
    assert abs(sorry.view.cya_mg_l - clean.view.cya_mg_l) < 0.25 * moved
    assert sorry.view.cya_sigma >= 0.9 * clean.view.cya_sigma


@pytest.mark.parametrize("hours", [60.0, 100.0])
def test_of_a_slip_of_chlorine_days_ago_the_doubt_comes_back_and_the_next_test_ends_it(hours: float) -> None:
    """What the electrode taught on the slip's word can't be told from what it would have taught without."""
    slip = hand_test(pool_after_a_test(5).pool, Quantity.FREE_CHLORINE, 1.4, 0.2, "slip")
    clean, kept, sorry = pair(slip, hours)
    moved = abs(kept.view.orp_offset_mv - clean.view.orp_offset_mv)
    assert moved > 4.0
    assert var_of(sorry.estimate.cov, OFFSET) ** 0.5 > moved
    assert sorry.view.low95_mg_l < clean.view.free_chlorine_mg_l < sorry.view.high95_mg_l
    for watched in (clean, sorry):
        watched.step(hand_test(watched.pool, Quantity.FREE_CHLORINE, watched.pool.free_mg_l, 0.2, "next"))
        watched.run(24.0)
    assert sorry.view.free_chlorine_mg_l == pytest.approx(clean.view.free_chlorine_mg_l, rel=0.1)


def test_what_a_withdrawn_test_counted_as_is_as_before() -> None:
    clean, _, sorry = pair(hand_test(pool_after_a_test(5).pool, Quantity.FREE_CHLORINE, 1.4, 0.2, "slip"), 5.0)
    assert sorry.estimate.tested_s == clean.estimate.tested_s
    assert sorry.estimate.drift_mv_sqrt_day == clean.estimate.drift_mv_sqrt_day


def test_a_test_is_taken_back_once() -> None:
    _, _, sorry = pair(hand_test(pool_after_a_test(5).pool, Quantity.STABILISER, 90.0, 8.0, "slip"), 60.0)
    before = sorry.view.cya_mg_l
    sorry.step(replace(hand_test(sorry.pool, Quantity.STABILISER, 90.0, 8.0, "slip"), withdrawn=True))
    assert sorry.view.cya_mg_l == pytest.approx(before, abs=0.5)


def answered(quantity: Quantity, slip: float, true: float, sigma: float, back_h: float) -> tuple[Watched, Watched]:
    """Two alike pools with a good test; in one a slip came half an hour before it and is withdrawn `back_h` after it."""
    clean, sorry = (pool_after_a_test(5) for _ in range(2))
    entry = hand_test(sorry.pool, quantity, slip, sigma, "slip")
    sorry.step(entry)
    clean.step()
    for watched in (clean, sorry):
        watched.run(0.5)
        watched.step(hand_test(watched.pool, quantity, true, sigma, "good"))
        watched.run(back_h)
    sorry.step(replace(entry, withdrawn=True))
    clean.step()
    return clean, sorry


@pytest.mark.parametrize("back_h", [0.5, 72.0])
def test_a_slip_of_ph_that_a_good_test_has_answered_takes_nothing_of_it_along(back_h: float) -> None:
    """pH 8.2, then 7.5, then the slip withdrawn: 7.36 was believed at 7.50."""
    clean, sorry = answered(Quantity.PH, 8.2, 7.5, 0.1, back_h)
    assert sorry.estimate.ph[1] == pytest.approx(clean.estimate.ph[1], abs=0.08)
    assert sorry.view.ph == pytest.approx(clean.view.ph, abs=0.08)


@pytest.mark.parametrize("back_h", [0.5, 72.0])
def test_a_slip_of_alkalinity_that_a_good_test_has_answered_takes_nothing_of_it_along(back_h: float) -> None:
    """180 for 80 and then the good one, which it made doubted: 13 mg/L was believed after the withdrawal."""
    clean, sorry = answered(Quantity.ALKALINITY, 180.0, 90.0, 10.0, back_h)
    assert sorry.view.alkalinity_mg_l == pytest.approx(clean.view.alkalinity_mg_l, abs=12.0)


def test_a_slip_of_stabiliser_that_a_good_test_has_answered_takes_nothing_of_it_along() -> None:
    clean, sorry = answered(Quantity.STABILISER, 90.0, 50.0, 6.0, 72.0)
    assert sorry.view.cya_mg_l == pytest.approx(clean.view.cya_mg_l, abs=8.0)


def test_the_right_figure_may_come_in_the_step_that_withdraws_the_slip() -> None:
    """The old slip withdrawn and its right value entered for when it was taken; minutes apart it was always good."""
    apart, together = (pool_after_a_test(5) for _ in range(2))
    slips = [hand_test(w.pool, Quantity.STABILISER, 90.0, 6.0, "slip") for w in (apart, together)]
    for watched, slip in zip((apart, together), slips, strict=True):
        watched.step(slip)
        watched.run(72.0)
    right = [replace(slip, request="right", value=35.0) for slip in slips]
    apart.step(replace(slips[0], withdrawn=True))
    apart.run(0.1)
    apart.step(right[0])
    pool = together.pool
    news = (right[1], replace(slips[1], withdrawn=True))
    inputs = EstimateInputs(pool.now_s, pool.utc, 0.0, None, None, 0.05, None, 0.0, (), new_tests=news)
    together.estimate = update(PLANT, PARAMS, together.estimate, inputs)
    together.run(0.2)
    assert together.view.cya_mg_l == pytest.approx(apart.view.cya_mg_l, abs=3.0)


def test_a_slip_that_a_test_typed_in_late_has_followed_is_gone_as_well() -> None:
    """The late one was weighed against the slip, and is weighed anew without it."""
    clean, sorry = (pool_after_a_test(5) for _ in range(2))
    slip = hand_test(sorry.pool, Quantity.STABILISER, 90.0, 6.0, "slip")
    before = sorry.view.cya_mg_l
    sorry.step(slip)
    clean.step()
    assert sorry.view.cya_mg_l - before > 5.0
    for watched in (clean, sorry):
        watched.run(60.0)
        late = hand_test(watched.pool, Quantity.STABILISER, 70.0, 6.0, "late")
        watched.step(replace(late, taken_s=late.taken_s - 3600.0))
    sorry.step(replace(slip, withdrawn=True))
    clean.step()
    assert sorry.view.cya_mg_l == pytest.approx(clean.view.cya_mg_l, abs=2.0)
    assert sorry.view.cya_sigma == pytest.approx(clean.view.cya_sigma, rel=0.1)
