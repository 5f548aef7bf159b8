"""An electrode stuck low: once its trip stands estimate and control go on without it, and the pool is held at the fall-back."""

from dataclasses import replace
from statistics import median

import pytest

from dosectl.core.interlocks.guard import FRESH, memory_key
from dosectl.core.interlocks.latches import mute
from dosectl.core.interlocks.registry import build
from dosectl.model.reasons import Code, Reason
from dosectl.pool_model.plant import PoolPlant
from dosectl.pool_model.scenarios import QUINCE_HOUSE_START, random_params
from dosectl.rehearsal.loop import ClosedLoop, demo_loaded
from tests.builders import a_site, an_evidence
from tests.closed_loop.taught_pool import Pool
from tests.further import further


def test_a_stuck_electrode_is_not_followed_while_its_trip_stands_and_the_pool_is_not_emptied() -> None:
    """It was followed: 4 to 5 mg/L were stated and nothing was wished, while pools lay empty from the fourth day on."""
    plant = PoolPlant(random_params(6, True), QUINCE_HOUSE_START, 6)
    loop = ClosedLoop.of(demo_loaded(True), plant, step_s=120.0, use_mg_l_day=1.4)
    for hours in (5.0, 67.0):
        *_, _ = loop.run(hours)
        loop.water_test("free_chlorine", "drops")
    *_, _ = loop.run(4.0)
    electrodes = plant._electrodes
    stuck = replace(
        electrodes._orp_params, slope_mv_decade=0.0, ph_slope_mv=0.0, e0_mv=electrodes.orp_mv - 40.0, offset_mv=0.0,
        drift_mv_day=0.0, wander_mv=0.0, hydrogen_mv=0.0, noise_mv=1.0,
    )  # fmt: skip
    electrodes._orp_params = stuck
    seen_s, lowest, hours_on = None, 99.0, 0
    for _ in range(6 * 24):
        *_, moment = loop.run(1.0)
        memories = moment.state.working.memories
        if not any(key.startswith("chlorine.response") and memory.latched for key, memory in memories.items()):
            continue
        if seen_s is None:  # the step that latches has still used what it saw; fall-back begins with control's next look
            seen_s = moment.state.durable.estimate.orp_seen_s
            *_, _ = loop.run(1.0)
            continue
        assert moment.decision.control.fallback
        assert moment.state.durable.estimate.orp_seen_s == seen_s
        lowest = min(lowest, moment.truth.free_chlorine_mg_l)
        hours_on += 1
    assert hours_on > 72
    assert lowest > 0.3


def test_the_signal_of_a_standing_trip_is_mute_and_that_of_another_latch_is_not() -> None:
    guards = build(a_site())
    why = Reason(Code("x"), (), an_evidence().now)
    (key,) = [key for key in map(memory_key, guards) if key.startswith("chlorine.response")]
    other = next(key for key in map(memory_key, guards) if key.startswith("flow.gas"))
    assert mute(guards, {key: replace(FRESH, latched=why)}) == {next(g for g in guards if memory_key(g) == key).orp}
    assert mute(guards, {other: replace(FRESH, latched=why), key: FRESH}) == frozenset()


def hours_low_after_a_bloom(seed: int) -> float:
    """Hours below 1 mg/L in the four days after a bloom, tested each day, beside an electrode that shows 690 mV of everything."""
    pool = Pool.after_a_fortnight(seed)
    electrodes = pool.plant._electrodes
    electrodes._orp_params = replace(
        electrodes._orp_params, slope_mv_decade=0.0, ph_slope_mv=0.0, e0_mv=690.0, offset_mv=0.0, drift_mv_day=0.0,
        wander_mv=0.0, hydrogen_mv=0.0, noise_mv=1.0,
    )  # fmt: skip
    for _ in range(4):
        pool.days(1.0)
        pool.loop.water_test("free_chlorine", "photometer")
    pool.days(0.2)
    assert any(key.startswith("chlorine.response") and m.latched for key, m in pool.loop.state.working.memories.items())
    assert pool.loop.state.durable.beside == ()
    assert pool.loop.state.durable.settled == ()
    pool.plant.set_fault("algae", True)
    pool.days(1.5)
    pool.plant.set_fault("algae", False)
    low_h = 0.0
    for _ in range(4):
        pool.loop.water_test("free_chlorine", "photometer")
        low_h += pool.hours_below(1.0, 1)
    return low_h


@pytest.mark.parametrize("pools", [3, further(6)])
def test_an_electrode_that_is_mute_contradicts_no_honest_test(pools: int) -> None:
    """Its 690 mV refused each honest test of a pool that a bloom had emptied, which lay at 0.1 mg/L for 192 of 192 hours.

    The middle of some pools, as one hangs on chance (the sixth: 13 or 24 by a change elsewhere); the worst lies low for 78 of 96.
    """
    assert median(hours_low_after_a_bloom(seed) for seed in range(1, pools + 1)) < 24.0
