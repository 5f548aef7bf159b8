"""Random sequences through the whole step, judged by a meter at the plant; long form: `python -m tests.benchmarks.sequences`."""

import pytest

from dosectl.model.verdicts import Denial
from tests.closed_loop.sequences import HOUR_S, LIMITS_MG_L, Sequence


@pytest.mark.parametrize(("seed", "hypochlorite"), [(1, True), (2, False), (3, True), (4, True)])
def test_whatever_comes_limits_hold_over_any_window_and_the_two_chemicals_never_run_together(
    seed: int, hypochlorite: bool
) -> None:
    world = Sequence(seed, hypochlorite)
    world.run(hours=18.0)
    assert len(world.said) > 20


def test_undisturbed_it_feeds_both_up_to_near_its_limits_so_that_the_check_can_fail() -> None:
    world = Sequence(5)
    while world.loop.elapsed_s < 10 * HOUR_S:
        world.check(world.loop.one())
    world.check_windows()
    volume = world.loop.plan.site.pool.volume_m3
    chlorine = world.plant.on_s["hypo"] * world.sites["hypo"].rate_g_s / volume
    acid = world.plant.on_s["acid"] * world.sites["acid"].rate_g_s / volume
    assert chlorine > 0.5 * LIMITS_MG_L["chlorine", 24 * HOUR_S]
    assert acid > 0.5 * LIMITS_MG_L["acid", 24 * HOUR_S]


def test_the_meter_sees_a_limit_that_is_passed() -> None:
    world = Sequence(6)
    world.plant.runs += [("hypo", 0.0, 2460.0, 1.0)]
    with pytest.raises(AssertionError, match="mg/L of chlorine within 3600"):
        world.check_windows()


@pytest.mark.parametrize("hypochlorite", [True, False])
def test_feeds_that_outlive_a_lost_off_are_booked_to_their_end(hypochlorite: bool) -> None:
    world = Sequence(7, hypochlorite)
    world.loop.off_lost = True
    while world.loop.elapsed_s < 3 * HOUR_S:
        world.loop.one()
    for name, feeder in world.sites.items():
        metered_g = world.plant.on_s[name] * feeder.rate_g_s
        assert metered_g > 0.0
        assert world.loop.state.durable.ledger.of(feeder.id).total_g >= metered_g - 1e-6, name


def _denying(world: Sequence) -> set[str]:
    assert world.loop.last is not None
    return {str(v.guard) for verdicts in world.loop.last.objections.values() for v in verdicts if isinstance(v, Denial)}


def test_a_latched_trip_stands_after_a_kill() -> None:
    world = Sequence(8)
    while world.loop.elapsed_s < 600.0:
        world.loop.one()
    world.loop.set_fault("second_controller", True)
    world.loop.one()
    world.loop.set_fault("second_controller", False)
    world.loop.one()
    fed_s = dict(world.plant.on_s)
    world.loop.restart(off_s=5.0)
    while world.loop.elapsed_s < 1.5 * HOUR_S:
        world.loop.one()
    assert "owner.foreign" in _denying(world)
    assert world.plant.on_s == fed_s


def test_the_third_start_within_an_hour_holds_for_an_hour() -> None:
    world = Sequence(9)
    for _ in range(2):
        until_s = world.loop.elapsed_s + 300.0
        while world.loop.elapsed_s < until_s:
            world.loop.one()
        world.loop.restart(off_s=5.0)
    started_s = world.loop.elapsed_s
    while world.loop.elapsed_s < started_s + 3500.0:
        world.loop.one()
        assert "start.hold" in _denying(world)
    while world.loop.elapsed_s < started_s + 3800.0:
        world.loop.one()
    assert "start.hold" not in _denying(world)
