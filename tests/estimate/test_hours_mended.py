"""What is typed late or withdrawn reaches the hours since: their pH, and how fast the electrode was found to drift.

Each case is held against the same pool with the same noise in which the slip was never made, or was typed at once.
"""

from dataclasses import replace
from functools import lru_cache

import pytest

from dosectl.core.estimate.additions import with_addition
from dosectl.core.estimate.new_probe import with_new_probes
from dosectl.core.estimate.rest import rested
from dosectl.core.requests.changes import HandAddition
from dosectl.model.requests import RequestId
from dosectl.model.signals import SignalKind
from dosectl.model.water_tests import Quantity, WaterTest
from tests.estimate.test_estimate import PARAMS, Watched, hand_test, inside_90, pool_after_a_test
from tests.further import further

DAY_H = 24.0


def good(watched: Watched, name: str, times: float = 1.0) -> WaterTest:
    return hand_test(watched.pool, Quantity.FREE_CHLORINE, round(watched.pool.free_mg_l * times, 1), 0.25, name)


def falling(watched: Watched, hours: int, mv_day: float = -35.0) -> None:
    for _ in range(hours):
        watched.orp_shift_mv += mv_day / 24.0
        watched.run(1.0)


def found_dead(seed: int, slip_times: float | None) -> Watched:
    """A small slip is believed; days later two good tests find the electrode falling; then the slip is withdrawn."""
    watched = pool_after_a_test(seed)
    watched.run(4 * DAY_H)
    slip = good(watched, "slip", slip_times or 1.0)
    watched.step(*([slip] if slip_times else []))
    watched.run(36.0)
    falling(watched, 84)
    watched.step(good(watched, "first"))
    watched.run(0.5)
    watched.step(good(watched, "second"))
    watched.run(20.0)
    watched.step(*([replace(slip, withdrawn=True)] if slip_times else []))
    return watched


@pytest.mark.parametrize(("seed", "times"), [(1, 1.3), further(5, 1.3), (3, 1.6)])
def test_an_electrode_that_was_found_dead_stays_so_when_an_older_slip_is_withdrawn(seed: int, times: float) -> None:
    """The drift of 25 mV a root day was forgotten with the slip: 0.16 mg/L [0.07 to 0.37] was believed at a true 2.66."""
    mended, never = found_dead(seed, times), found_dead(seed, None)
    assert never.estimate.drift_mv_sqrt_day is not None
    assert never.estimate.drift_mv_sqrt_day > 10.0
    assert mended.estimate.drift_mv_sqrt_day == pytest.approx(never.estimate.drift_mv_sqrt_day, rel=0.35)
    for watched in (mended, never):
        falling(watched, 48)
    assert inside_90(mended.view, mended.pool.free_mg_l)
    assert mended.view.free_chlorine_mg_l == pytest.approx(never.view.free_chlorine_mg_l, rel=0.3)


@pytest.mark.parametrize("seed", [1, further(3)])
def test_the_right_test_between_two_wrong_ones_is_believed_once_the_wrong_one_is_withdrawn(seed: int) -> None:
    """A good test is doubted beside a dead electrode, a hasty second one believed; that one goes an hour later."""
    watched = pool_after_a_test(seed)
    watched.run(DAY_H)
    falling(watched, 96)
    watched.step(good(watched, "good"))
    watched.run(0.4)
    hasty = good(watched, "hasty", 1.2)
    watched.step(hasty)
    watched.run(0.4)
    watched.step(good(watched, "again"))
    watched.run(1.0)
    watched.step(replace(hasty, withdrawn=True))
    falling(watched, 72)
    assert inside_90(watched.view, watched.pool.free_mg_l)
    assert watched.view.free_chlorine_mg_l > 0.5 * watched.pool.free_mg_l


@pytest.mark.parametrize("seed", [further(1), 5])
def test_two_tests_that_find_an_electrode_dead_are_heard_in_whatever_order_they_are_typed(seed: int) -> None:
    """The later one is typed first and doubted; the earlier one, doubted too, makes it believed: 0.02 at 2.10 two days on."""

    def pool(reversed_order: bool) -> Watched:
        watched = pool_after_a_test(seed)
        watched.run(DAY_H)
        falling(watched, 96)
        first = good(watched, "first")
        watched.step(*([] if reversed_order else [first]))
        watched.run(0.5)
        watched.step(good(watched, "second"))
        watched.run(0.3)
        watched.step(*([first] if reversed_order else []))
        falling(watched, 48)
        return watched

    mended, in_order = pool(True), pool(False)
    assert mended.estimate.drift_mv_sqrt_day is not None
    assert mended.estimate.tested_s == in_order.estimate.tested_s
    assert mended.view.free_chlorine_mg_l == pytest.approx(in_order.view.free_chlorine_mg_l, rel=0.25)


@pytest.mark.parametrize("seed", [1, further(5)])
def test_tests_of_before_a_slip_that_are_typed_after_it_count_once_it_is_gone(seed: int) -> None:
    """A 0.0 is believed beside a dead electrode, then two good ones of just before are typed: 0.02 at 2.04 two days on."""
    watched = pool_after_a_test(seed)
    watched.run(DAY_H)
    falling(watched, 96)
    first = good(watched, "first")
    watched.run(0.5)
    second = good(watched, "second")
    watched.run(0.1)
    slip = good(watched, "slip", 0.0)
    watched.step(slip)
    watched.step(first)
    watched.step(second)
    watched.run(1.0)
    watched.step(replace(slip, withdrawn=True))
    falling(watched, 48)
    assert watched.view.free_chlorine_mg_l > 0.5 * watched.pool.free_mg_l
    assert inside_90(watched.view, watched.pool.free_mg_l)


@pytest.mark.parametrize("order", [(0, 1), (1, 0), (0,)])
def test_slips_that_ended_dead_water_leave_it_dead_once_they_are_gone(order: tuple[int, ...]) -> None:
    watched = pool_after_a_test(3)
    watched.dose_g = 0.0
    watched.run(7 * DAY_H)
    dead_s = watched.estimate.dead_s
    assert dead_s > 3 * 86400.0
    slips = []
    for number in range(2):
        slips.append(hand_test(watched.pool, Quantity.FREE_CHLORINE, 6.0, 0.25, f"{number}"))
        watched.step(slips[-1])
        watched.run(0.4)
    assert watched.estimate.dead_s == 0.0
    for number in order:
        watched.step(replace(slips[number], withdrawn=True))
    assert watched.estimate.dead_s == pytest.approx(dead_s, rel=0.1)


@lru_cache(maxsize=8)
def slipped_ph(seed: int, value: float | None, probe: bool) -> Watched:
    """One sample, chlorine and pH; the pH is a slip, withdrawn after 20 h; and three days more."""
    watched = pool_after_a_test(seed)
    watched.ph = probe
    slip = hand_test(watched.pool, Quantity.PH, value or 7.5, 0.1, "slip")
    watched.step(good(watched, "chlorine"), *([slip] if value else []))
    watched.run(20.0)
    watched.step(*([replace(slip, withdrawn=True)] if value else []))
    watched.run(3 * DAY_H)
    return watched


@pytest.mark.parametrize(
    ("seed", "value", "probe"),
    [
        (1, 8.3, True),
        (1, 8.3, False),
        (4, 8.3, False),
        (4, 6.8, False),
        further(1, 6.8, True),
        further(1, 6.8, False),
        further(4, 8.3, True),
        further(4, 6.8, True),
    ],
)
def test_a_withdrawn_slip_of_ph_leaves_nothing_in_chlorine_and_electrode(seed: int, value: float, probe: bool) -> None:
    """The pH came back, the hours since were never run again: 0.71 mg/L [0.39 to 1.30] was believed at a true 1.97."""
    mended, never = slipped_ph(seed, value, probe), slipped_ph(seed, None, probe)
    assert mended.view.ph == pytest.approx(never.view.ph, abs=0.05)
    assert mended.view.free_chlorine_mg_l == pytest.approx(never.view.free_chlorine_mg_l, rel=0.12)
    assert mended.view.orp_offset_mv == pytest.approx(never.view.orp_offset_mv, abs=4.0)


def test_a_slip_of_ph_between_good_tests_leaves_nothing_either() -> None:
    """Without a probe: 7.5, then 8.3 that is withdrawn, then 7.5 once more; each stands for the hours after it."""

    def pool(with_slip: bool) -> Watched:
        watched = pool_after_a_test(2)
        watched.ph = False
        slip = hand_test(watched.pool, Quantity.PH, 8.3, 0.1, "slip")
        for test in (hand_test(watched.pool, Quantity.PH, 7.5, 0.1, "before"), slip, None):
            watched.step(
                *([test or hand_test(watched.pool, Quantity.PH, 7.5, 0.1, "after")] if with_slip or test is not slip else [])
            )
            watched.run(15.0)
        watched.step(*([replace(slip, withdrawn=True)] if with_slip else []))
        watched.run(30.0)
        return watched

    mended, never = pool(True), pool(False)
    assert mended.view.ph == pytest.approx(never.view.ph, abs=0.05)
    assert mended.view.free_chlorine_mg_l == pytest.approx(never.view.free_chlorine_mg_l, rel=0.12)


def probe_back_later(seed: int, with_slip: bool, replaced: bool) -> Watched:
    """A slip of pH beside a chlorine test while the probe is silent (or is replaced after it), withdrawn two days later."""
    watched = pool_after_a_test(seed)
    watched.ph = replaced
    watched.run(4.0)
    slip = hand_test(watched.pool, Quantity.PH, 8.3, 0.1, "slip")
    watched.step(good(watched, "chlorine"), *([slip] if with_slip else []))
    watched.run(DAY_H)
    if replaced:
        watched.estimate = with_new_probes(watched.estimate, PARAMS, frozenset({SignalKind.PH}), frozenset())
    watched.ph = True
    watched.run(DAY_H)
    watched.step(*([replace(slip, withdrawn=True)] if with_slip else []))
    return watched


@pytest.mark.parametrize("replaced", [False, True])
def test_a_slip_of_ph_is_gone_from_the_hours_until_a_probe_came_back(replaced: bool) -> None:
    """Whether a probe followed was asked of the whole time: 1.56 [1.18 to 2.07] at 2.38, and never 2.28."""
    mended, never = probe_back_later(1, True, replaced), probe_back_later(1, False, replaced)
    assert mended.view.free_chlorine_mg_l == pytest.approx(never.view.free_chlorine_mg_l, rel=0.12)
    assert mended.view.orp_offset_mv == pytest.approx(never.view.orp_offset_mv, abs=4.0)


def replaced_while_silent(seed: int, value: float | None, read: bool) -> Watched:
    """A silent pH probe, its pH mistyped, the probe replaced four hours later, the slip withdrawn; three days more."""
    watched = pool_after_a_test(seed)
    watched.ph = False
    slip = hand_test(watched.pool, Quantity.PH, value or 7.5, 0.1, "slip")
    watched.step(good(watched, "chlorine"), *([slip] if value else []))
    watched.run(4.0)
    watched.estimate = with_new_probes(watched.estimate, PARAMS, frozenset({SignalKind.PH}), frozenset())
    watched.run(2.0)
    watched.step(*([replace(slip, withdrawn=True)] if value else []))
    watched.run(36.0)
    watched.ph = read
    watched.run(36.0)
    return watched


@pytest.mark.parametrize("read", [False, True])
@pytest.mark.parametrize(("seed", "value"), [(1, 6.8), (1, 8.3), further(3, 8.3)])
def test_a_slip_of_ph_beside_a_silent_probe_is_gone_though_the_probe_was_replaced(seed: int, value: float, read: bool) -> None:
    """Only the offset ended with that probe; the water kept the slip's pH: 1.64 [0.91 to 2.95] at a true 2.57, never 2.44."""
    mended, never = replaced_while_silent(seed, value, read), replaced_while_silent(seed, None, read)
    assert mended.view.ph == pytest.approx(never.view.ph, abs=0.05)
    assert mended.view.free_chlorine_mg_l == pytest.approx(never.view.free_chlorine_mg_l, rel=0.12)
    assert mended.view.orp_offset_mv == pytest.approx(never.view.orp_offset_mv, abs=4.0)


def read_over(value: float | None, order: str) -> Watched:
    """A slip of pH that the old probe read over (r: two hours), with a good test (g) and a new probe (n) in some order."""
    watched = pool_after_a_test(2)
    slip = hand_test(watched.pool, Quantity.PH, value or 7.5, 0.1, "slip")
    watched.step(*([slip] if value else []))
    for number, done in enumerate(order):
        if done == "r":
            watched.run(2.0)
        elif done == "g":
            watched.step(hand_test(watched.pool, Quantity.PH, 7.5, 0.1, f"good {number}"))
        else:
            watched.ph = False
            watched.estimate = with_new_probes(watched.estimate, PARAMS, frozenset({SignalKind.PH}), frozenset())
            watched.run(0.2)
    watched.run(0.2)
    watched.step(*([replace(slip, withdrawn=True)] if value else []))
    watched.run(0.2)
    return watched


@pytest.mark.parametrize("order", ["rng", "rgrn", "rgn", "rngn"])
@pytest.mark.parametrize("value", [6.8, 8.2])
def test_a_slip_of_ph_that_the_old_probe_read_over_goes_in_whatever_order(value: float, order: str) -> None:
    """The good test beside the new probe was moved by the slip once more: 7.82 and 7.18 at 7.50."""
    assert read_over(value, order).view.ph == pytest.approx(read_over(None, order).view.ph, abs=0.05)


def good_before_the_new_probe(value: float | None, followed: bool) -> Watched:
    """pH mistyped, tested well a day later, the probe replaced, the slip withdrawn before the new one is read. followed : the old
    probe was read between slip and replacement, and no good test was made"""
    watched = pool_after_a_test(2)
    watched.ph = followed
    slip = hand_test(watched.pool, Quantity.PH, value or 7.5, 0.1, "slip")
    watched.step(good(watched, "chlorine"), *([slip] if value else []))
    watched.run(DAY_H)
    watched.step(*([] if followed else [hand_test(watched.pool, Quantity.PH, 7.5, 0.1, "ph")]))
    watched.run(4.0)
    watched.estimate = with_new_probes(watched.estimate, PARAMS, frozenset({SignalKind.PH}), frozenset())
    watched.ph = False
    watched.run(2.0)
    watched.step(*([replace(slip, withdrawn=True)] if value else []))
    watched.run(6.0)
    return watched


@pytest.mark.parametrize("followed", [False, True])
@pytest.mark.parametrize("value", [6.8, 8.4])
def test_a_slip_of_ph_goes_behind_a_good_test_and_a_new_probe_that_is_not_read_yet(value: float, followed: bool) -> None:
    """The good test's way back from the slip was gone a second time, 7.27 at 7.50; what an old probe read was left bent, 7.86."""
    mended, never = good_before_the_new_probe(value, followed), good_before_the_new_probe(None, followed)
    assert mended.view.ph == pytest.approx(never.view.ph, abs=0.05)
    assert mended.view.free_chlorine_mg_l == pytest.approx(never.view.free_chlorine_mg_l, rel=0.12)


@pytest.mark.parametrize("value", [6.8, 8.3])
def test_a_test_of_before_a_slip_of_ph_that_is_typed_after_it_is_not_bent_by_it(value: float) -> None:
    """The late one took all of the slip along into a day before it: 1.45 [1.10 to 1.91] at 2.65."""

    def pool(with_slip: bool) -> Watched:
        watched = pool_after_a_test(4)
        watched.ph = False
        earlier = hand_test(watched.pool, Quantity.PH, 7.5, 0.1, "earlier")
        watched.run(20.0)
        slip = hand_test(watched.pool, Quantity.PH, value, 0.1, "slip")
        watched.step(good(watched, "chlorine"), *([slip] if with_slip else []))
        watched.run(1.0)
        watched.step(earlier)
        watched.run(30.0)
        watched.step(*([replace(slip, withdrawn=True)] if with_slip else []))
        return watched

    mended, never = pool(True), pool(False)
    assert mended.view.free_chlorine_mg_l == pytest.approx(never.view.free_chlorine_mg_l, rel=0.15)


def with_ph_typed(seed: int, typed_h: int) -> Watched:
    """A pool of pH 8.0 without a probe; its pH is tested with the chlorine and typed so many hours later. Three days more."""
    watched = pool_after_a_test(seed)
    watched.ph, watched.pool.ph = False, 8.0
    watched.run(12.0)
    ph = hand_test(watched.pool, Quantity.PH, 8.0, 0.1, "ph")
    watched.step(good(watched, "chlorine"), *([ph] if typed_h == 0 else []))
    watched.run(typed_h)
    watched.step(*([ph] if typed_h else []))
    watched.run(72.0 - typed_h)
    return watched


@pytest.mark.parametrize("seed", [1, further(4)])
def test_a_test_of_ph_that_is_typed_late_is_of_the_hours_since(seed: int) -> None:
    """Without a probe, pH 8.0 beside a chlorine test typed at once: 1.37 [0.91 to 2.04], and 1.80 with both typed at once."""
    late, once = with_ph_typed(seed, 20), with_ph_typed(seed, 0)
    assert late.view.free_chlorine_mg_l == pytest.approx(once.view.free_chlorine_mg_l, rel=0.08)
    assert late.view.orp_offset_mv == pytest.approx(once.view.orp_offset_mv, abs=4.0)


SODA = HandAddition(RequestId("soda"), 0.0, "anna", "soda ash", 0.0, 12.0, 0.0, carbon_mmol_l=0.12)


def poured(seed: int, typed_h: float, probe: bool, test_after_h: float | None = None, says: float | None = None) -> Watched:
    """A pool into which soda ash went, typed so many hours later, and two days more."""
    watched = pool_after_a_test(seed)
    watched.ph = probe
    added = replace(SODA, at_s=watched.pool.now_s)
    watched.pool.ph = 7.95
    for hour in range(48):
        if hour == typed_h:
            watched.estimate = with_addition(watched.plant, watched.estimate, added, PARAMS, 0.5)
        if hour == test_after_h:
            watched.step(hand_test(watched.pool, Quantity.PH, says or watched.pool.ph, 0.1, "after"))
        watched.run(1.0)
    return watched


@pytest.mark.parametrize("seed", [1, 3])
def test_what_was_poured_in_and_typed_late_moves_the_ph_where_no_probe_has_shown_it(seed: int) -> None:
    """Soda ash typed 20 minutes late left pH at 7.50 for 8.06, and 0.4 to 0.7 of the chlorine was believed."""
    once, late = poured(seed, 0, False), poured(seed, 3, False)
    assert once.view.ph > 7.8
    assert late.view.ph == pytest.approx(once.view.ph, abs=0.05)
    assert late.view.free_chlorine_mg_l == pytest.approx(once.view.free_chlorine_mg_l, rel=0.15)
    assert inside_90(late.view, late.pool.free_mg_l)


def test_a_late_pour_moves_no_ph_that_a_probe_or_a_test_has_shown_since() -> None:
    assert poured(1, 8, True).view.ph == pytest.approx(7.95, abs=0.1)
    typed, never = poured(1, 8, False, test_after_h=2), poured(1, 99, False, test_after_h=2)
    assert typed.view.ph == pytest.approx(never.view.ph, abs=0.01)


def doubt(watched: Watched) -> float:
    return watched.view.sigma_mg_l / watched.view.free_chlorine_mg_l


def test_a_refused_test_of_ph_shows_nothing_of_a_late_pour() -> None:
    assert poured(1, 3, False, test_after_h=2, says=5.0).view.ph == pytest.approx(poured(1, 3, False).view.ph, abs=0.05)


@pytest.mark.parametrize("value", [1.0, 8.0])
def test_a_slip_of_chlorine_that_the_hours_no_longer_hold_leaves_doubt_and_no_electrode(value: float) -> None:
    """Typed as the pool's first test and withdrawn after 16 days: the electrode that it taught was believed on."""
    watched = Watched(2)
    watched.run(12.0)
    before_any = doubt(watched)
    slip = hand_test(watched.pool, Quantity.FREE_CHLORINE, value, 0.25, "slip")
    watched.step(slip)
    watched.run(36.0)
    est = watched.estimate
    history = est.history[-4:]  # as if it had been weeks
    watched.estimate = replace(est, history=history, tests=())
    assert doubt(watched) < 0.6 * before_any
    watched.step(replace(slip, withdrawn=True))
    assert doubt(watched) > before_any
    assert watched.estimate.tested_s is None
    watched.run(24.0)
    assert inside_90(watched.view, watched.pool.free_mg_l)


def test_one_that_a_believed_test_followed_leaves_what_that_one_said() -> None:
    watched = Watched(2)
    watched.run(12.0)
    slip = hand_test(watched.pool, Quantity.FREE_CHLORINE, 3.6, 0.25, "slip")
    watched.step(slip)
    watched.run(30.0)
    watched.step(good(watched, "good"))
    assert "good" not in watched.estimate.doubted
    watched.run(1.0)
    est = watched.estimate
    watched.estimate = replace(est, history=est.history[-1:], tests=tuple(t for t in est.tests if t.request == "good"))
    before = watched.view
    watched.step(replace(slip, withdrawn=True))
    assert watched.view.free_chlorine_mg_l == pytest.approx(before.free_chlorine_mg_l, rel=0.05)
    assert watched.view.sigma_mg_l == pytest.approx(before.sigma_mg_l, rel=0.2)


def test_a_slip_of_alkalinity_is_taken_back_after_weeks_of_daily_tests() -> None:
    """48 tests of chlorine and pH pushed it out of what is kept: 180 stood at a true 90, and the answer said it was gone."""
    watched = pool_after_a_test()
    slip = hand_test(watched.pool, Quantity.ALKALINITY, 180.0, 6.0, "slip")
    watched.step(slip)
    for number in range(30):
        watched.step(good(watched, f"c{number}"), hand_test(watched.pool, Quantity.PH, 7.5, 0.1, f"p{number}"))
        watched.run(0.5)
    assert watched.view.alkalinity_mg_l > 150.0
    watched.step(replace(slip, withdrawn=True))
    assert watched.view.alkalinity_mg_l == pytest.approx(90.0, abs=15.0)


@pytest.mark.parametrize(("quantity", "slip", "truth"), [(Quantity.STABILISER, 110.0, 50.0), (Quantity.ALKALINITY, 180.0, 90.0)])
def test_a_slip_from_before_the_season_is_taken_back_after_the_opening(quantity: Quantity, slip: float, truth: float) -> None:
    watched = pool_after_a_test()
    entry = hand_test(watched.pool, quantity, slip, 6.0, "slip")
    watched.step(entry)
    watched.run(1.0)
    watched.estimate = rested(watched.plant, PARAMS, watched.estimate)
    watched.run(1.0)
    watched.step(replace(entry, withdrawn=True))
    view = watched.view
    assert (view.cya_mg_l if quantity is Quantity.STABILISER else view.alkalinity_mg_l) == pytest.approx(truth, rel=0.2)
