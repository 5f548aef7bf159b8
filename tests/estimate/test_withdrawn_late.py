"""Slips that are withdrawn after weeks, in pairs, or through a new electrode are as if they had never been."""

from dataclasses import replace
from math import log

import pytest

from dosectl.core.estimate.additions import with_addition
from dosectl.core.estimate.new_probe import with_new_probes
from dosectl.core.estimate.state import STABILISER, Pour, Taught
from dosectl.core.estimate.taken_back import poured_on
from dosectl.core.requests.changes import HandAddition
from dosectl.model.requests import RequestId
from dosectl.model.signals import SignalKind
from dosectl.model.water_tests import Quantity, WaterTest
from tests.estimate.test_estimate import PARAMS, PLANT, Watched, chlorine_test, hand_test, pool_after_a_test

DAY_H = 24.0
SIGMA = {Quantity.PH: 0.1, Quantity.ALKALINITY: 6.0}


def slip_of_stabiliser(days: float, *others: tuple[float, float]) -> tuple[Watched, WaterTest]:
    """A pool of 50 with a slip of 110 so many days ago. `others`: day and value of further tests of stabiliser."""
    watched = pool_after_a_test()
    slip = hand_test(watched.pool, Quantity.STABILISER, 110.0, 6.0, "slip")
    watched.step(slip)
    for day in range(1, int(days) + 1):
        watched.run(DAY_H)
        if day % 7 == 0:
            watched.step(chlorine_test(watched.pool))
        for at, value in others:
            if day == at:
                watched.step(hand_test(watched.pool, Quantity.STABILISER, value, 6.0))
    return watched, slip


def weeks_pass(watched: Watched) -> None:
    """As if it had been weeks: of the stored hours only the last day's are left, and the tests in them."""
    est = watched.estimate
    history = est.history[-24:]
    watched.estimate = replace(est, history=history, tests=tuple(t for t in est.tests if t.taken_s > history[0].begins_s))


@pytest.mark.parametrize("days", [13, 17])
def test_a_slip_of_stabiliser_is_gone_after_weeks_too(days: float) -> None:
    """96 mg/L stayed believed at a true 50, and the target was twice too high, while the answer said that it was gone."""
    watched, slip = slip_of_stabiliser(days)
    assert watched.view.cya_mg_l > 85.0
    chlorine = watched.view.free_chlorine_mg_l
    watched.step(replace(slip, withdrawn=True))
    assert watched.view.cya_mg_l == pytest.approx(watched.pool.cya_mg_l, rel=0.2)
    assert watched.view.cya_sigma > 10.0
    assert watched.view.free_chlorine_mg_l == pytest.approx(chlorine, rel=0.15)
    once = watched.view.cya_mg_l
    watched.step(replace(slip, withdrawn=True))
    assert watched.view.cya_mg_l == pytest.approx(once, abs=0.5)
    watched.run(48.0)
    assert watched.view.low95_mg_l < watched.pool.free_mg_l < watched.view.high95_mg_l


def test_what_a_later_test_of_stabiliser_has_mended_is_not_taken_off_once_more() -> None:
    watched, slip = slip_of_stabiliser(5, (2, 49.0), (4, 50.0))
    weeks_pass(watched)
    before = watched.view.cya_mg_l
    assert before < 65.0
    watched.step(replace(slip, withdrawn=True))
    assert watched.view.cya_mg_l == pytest.approx(watched.pool.cya_mg_l, abs=8.0)


@pytest.mark.parametrize("later", ["late chlorine", "withdrawn chlorine"])
def test_an_old_slip_of_stabiliser_stays_gone_when_hours_are_run_again(later: str) -> None:
    """Only the state of now was mended: 45 after the withdrawal, and 96 again with the next chlorine test that was typed late."""
    watched, slip = slip_of_stabiliser(4)
    weeks_pass(watched)
    watched.step(replace(slip, withdrawn=True))
    assert watched.view.cya_mg_l < 65.0
    before = watched.view.cya_mg_l
    test = chlorine_test(watched.pool, "late")
    if later == "withdrawn chlorine":
        watched.step(test)
    watched.run(6.0)
    watched.step(replace(test, withdrawn=later == "withdrawn chlorine"))
    assert watched.view.cya_mg_l == pytest.approx(before, abs=6.0)


def stabiliser_added(watched: Watched, mg_l: float) -> HandAddition:
    return HandAddition(RequestId("poured"), watched.pool.now_s, "anna", "stabiliser", 0.0, 0.0, mg_l)


@pytest.mark.parametrize("slip", [15.0, 110.0])
def test_what_was_poured_in_since_an_old_slip_of_stabiliser_stays(slip: float) -> None:
    """15 for 50, 40 mg/L poured in for it, withdrawn after 17 days: 132 was believed at a true 90."""
    sorry, clean = pool_after_a_test(), pool_after_a_test()
    entry = hand_test(sorry.pool, Quantity.STABILISER, slip, 6.0, "slip")
    sorry.step(entry)
    clean.step()
    for watched in (sorry, clean):
        watched.run(0.5)
        watched.estimate = with_addition(PLANT, watched.estimate, stabiliser_added(watched, 40.0), PARAMS, 1.0)
        watched.pool.cya_mg_l += 40.0
        watched.run(3 * DAY_H)
        weeks_pass(watched)
    sorry.step(replace(entry, withdrawn=True))
    assert sorry.view.cya_mg_l == pytest.approx(clean.view.cya_mg_l, abs=6.0)
    assert sorry.view.cya_sigma > 0.8 * clean.view.cya_sigma


def test_a_pour_that_is_typed_after_a_later_test_shrinks_the_step_of_the_earlier_one_by_the_level_of_then() -> None:
    """Levels of the shifted state: 50, 100 by the first test, 200 by the second; 80 poured between: (100 + 80) / (50 + 80)."""
    steps = {"first": (log(2.0), 10.0), "second": (log(2.0), 30.0)}
    taught = tuple(Taught(name, Quantity.STABILISER, (step,), (0.1,), None, at_s) for name, (step, at_s) in steps.items())
    est = pool_after_a_test(hours=16.0).estimate
    mean = list(est.mean)
    mean[STABILISER] = log(200.0)  # the pour is not counted yet
    first, second = poured_on(replace(est, mean=tuple(mean), taught=taught), Pour(20.0, 0.0, 80.0, 0.0))
    assert first.by[0] == pytest.approx(log(180.0 / 130.0))
    assert second.by == (log(2.0),)


@pytest.mark.parametrize("newest_first", [True, False])
@pytest.mark.parametrize("second", [110.0, 15.0])
def test_two_slips_of_stabiliser_are_gone_in_whatever_order(second: float, newest_first: bool) -> None:
    """Two weeks and more apart, withdrawn three days later: 83 to 96 believed at a true 50."""
    watched, first = slip_of_stabiliser(4)
    weeks_pass(watched)
    entry = hand_test(watched.pool, Quantity.STABILISER, second, 6.0, "second")
    watched.step(entry)
    watched.run(0.5)
    for slip in (entry, first) if newest_first else (first, entry):
        watched.step(replace(slip, withdrawn=True))
        watched.run(0.1)
    assert watched.view.cya_mg_l == pytest.approx(watched.pool.cya_mg_l, abs=15.0)
    assert watched.view.cya_sigma > 10.0


def test_a_slip_of_stabiliser_in_an_older_record_is_taken_back() -> None:
    """It kept the steps of nine states and of three more, and hours of two days."""
    watched, slip = slip_of_stabiliser(5)

    def older(taught: Taught) -> Taught:
        step = [0.0] * 12
        freed = [0.0] * 12
        step[STABILISER], freed[STABILISER] = (*taught.by, 0.0)[0], (*taught.freed, 0.0)[0]
        return replace(taught, by=tuple(step), freed=tuple(freed)) if taught.quantity is Quantity.STABILISER else taught

    est = watched.estimate
    watched.estimate = replace(
        est, taught=tuple(older(t) for t in est.taught), history=est.history[-48:], tests=tuple(t for t in est.tests if t != slip)
    )
    watched.step(replace(slip, withdrawn=True))
    assert watched.view.cya_mg_l == pytest.approx(watched.pool.cya_mg_l, rel=0.2)


def entered(
    quantity: Quantity, said: tuple[tuple[float, bool], ...], apart_h: float, with_slips: bool = True
) -> tuple[Watched, list[WaterTest]]:
    """A pool with these tests, and those of them that are slips."""
    watched, slips = pool_after_a_test(), []
    for number, (value, slip) in enumerate(said):
        test = hand_test(watched.pool, quantity, value, SIGMA[quantity], f"{number}")
        watched.step(*([test] if with_slips or not slip else []))
        watched.run(apart_h)
        slips += [test] if slip else []
    return watched, slips


ALKALINITIES = [
    ((150.0, True), (150.0, True)),
    ((45.0, True), (150.0, True)),
    ((9.0, True), (90.0, True)),
    ((90.0, False), (150.0, True), (150.0, True)),
    ((150.0, True), (92.0, False), (45.0, True), (90.0, False)),
]
PHS = [
    ((6.8, True), (6.8, True)),
    ((7.1, True), (8.6, True)),
    ((7.1, True), (8.6, True), (7.5, False)),
    ((7.5, False), (8.2, True), (8.2, True)),
]


@pytest.mark.parametrize("newest_first", [True, False])
@pytest.mark.parametrize(
    ("quantity", "said"), [*((Quantity.ALKALINITY, said) for said in ALKALINITIES), *((Quantity.PH, said) for said in PHS)]
)
def test_several_slips_are_gone_in_whatever_order(
    quantity: Quantity, said: tuple[tuple[float, bool], ...], newest_first: bool
) -> None:
    """Two of 150, both withdrawn, left an alkalinity of 149 +- 7 at a true 90, and two of pH 6.8 an offset of 0.24."""
    watched, slips = entered(quantity, said, 6.0)
    for slip in reversed(slips) if newest_first else slips:
        watched.step(replace(slip, withdrawn=True))
        watched.run(0.1)
    never, _ = entered(quantity, said, 6.0, with_slips=False)
    never.run(0.1 * len(slips))
    if quantity is Quantity.PH:
        assert watched.view.ph == pytest.approx(never.view.ph, abs=0.08)
        assert watched.estimate.ph[1] == pytest.approx(never.estimate.ph[1], abs=0.06)
        assert watched.view.ph_sigma >= 0.8 * never.view.ph_sigma
    else:
        assert watched.view.alkalinity_mg_l == pytest.approx(never.view.alkalinity_mg_l, abs=3.0)
        assert watched.view.alkalinity_sigma >= 0.9 * never.view.alkalinity_sigma


@pytest.mark.parametrize("slip", [8.6, 6.8])
def test_a_slip_of_ph_is_gone_where_the_probe_died_after_it(slip: float) -> None:
    """Whether the probe had followed was asked only at the withdrawal: 7.20 and 7.69 at a true 7.50, for good."""
    watched = pool_after_a_test()
    entry = hand_test(watched.pool, Quantity.PH, slip, 0.1, "slip")
    watched.step(entry)
    watched.run(8.0)
    watched.ph = False
    watched.run(28.0)
    watched.step(hand_test(watched.pool, Quantity.PH, 7.5, 0.1, "good"))
    watched.run(1.0)
    watched.step(replace(entry, withdrawn=True))
    assert watched.view.ph == pytest.approx(7.5, abs=0.05)


@pytest.mark.parametrize("slip", [8.2, 6.8])
def test_a_slip_of_ph_at_night_is_gone_at_once(slip: float) -> None:
    watched = pool_after_a_test()
    while watched.pool.utc.hour != 23:
        watched.run(0.5)
    before = watched.view.ph
    entry = hand_test(watched.pool, Quantity.PH, slip, 0.1, "slip")
    watched.step(entry)
    assert abs(watched.view.ph - before) > 0.2
    watched.run(0.1)
    watched.step(replace(entry, withdrawn=True))
    assert watched.view.ph == pytest.approx(before, abs=0.03)


@pytest.mark.parametrize("last_first", [False, True])
def test_two_slips_of_no_alkalinity_at_all_leave_nothing(last_first: bool) -> None:
    """What stands is at least 10 mg/L, what they were booked to have moved went below: 109 was left at 90."""
    watched, slips = entered(Quantity.ALKALINITY, ((0.0, True), (0.0, True)), 1.0)
    for slip in reversed(slips) if last_first else slips:
        watched.step(replace(slip, withdrawn=True))
    assert watched.view.alkalinity_mg_l == pytest.approx(90.0, abs=3.0)


def test_one_of_two_slips_that_is_withdrawn_leaves_the_other() -> None:
    watched, slips = entered(Quantity.ALKALINITY, ((150.0, True), (150.0, True)), 1.0)
    watched.step(replace(slips[0], withdrawn=True))
    assert watched.view.alkalinity_mg_l == pytest.approx(150.0, abs=5.0)


def test_a_test_of_the_old_ph_probe_teaches_the_new_one_nothing_when_a_slip_is_withdrawn() -> None:
    watched, slips = entered(Quantity.PH, ((8.2, True), (7.9, False)), 1.0)
    watched.estimate = with_new_probes(watched.estimate, PARAMS, frozenset({SignalKind.PH}), frozenset())
    watched.run(2.0)
    before = watched.estimate.ph
    watched.step(replace(slips[0], withdrawn=True))
    assert watched.estimate.ph[:2] == pytest.approx(before[:2], abs=0.01)


def test_a_new_electrode_does_not_get_the_drift_of_the_old_one() -> None:
    """A wild one of 40 mV a root day was replaced; an old test, withdrawn, gave its drift to the new one, whose band was a half
    wider for it ten days later."""
    watched = pool_after_a_test()
    for _ in range(48):
        watched.orp_shift_mv -= 2.5
        watched.run(1.0)
    for name in ("a", "b"):
        watched.step(hand_test(watched.pool, Quantity.FREE_CHLORINE, watched.pool.free_mg_l, 0.25, name))
        watched.run(0.5)
    last = hand_test(watched.pool, Quantity.FREE_CHLORINE, watched.pool.free_mg_l, 0.25, "last")
    watched.step(last)
    assert watched.estimate.drift_mv_sqrt_day is not None
    assert watched.estimate.drift_mv_sqrt_day > 10.0
    watched.estimate = with_new_probes(watched.estimate, PARAMS, frozenset({SignalKind.ORP}), frozenset())
    watched.orp_shift_mv = 0.0
    watched.run(DAY_H)
    watched.step(replace(last, withdrawn=True))
    assert watched.estimate.drift_mv_sqrt_day is None


def test_a_doubted_test_that_is_withdrawn_brings_no_dead_water_back() -> None:
    watched = pool_after_a_test(3)
    watched.dose_g = 0.0
    watched.run(7 * DAY_H)
    assert watched.estimate.dead_s > 3 * 86400.0
    slip = hand_test(watched.pool, Quantity.FREE_CHLORINE, 9.0, 0.25, "slip")
    watched.step(slip)
    assert "slip" in watched.estimate.doubted
    watched.dose_g = 0.2
    watched.run(9 * DAY_H)
    assert watched.estimate.dead_s == 0.0
    watched.step(replace(slip, withdrawn=True))
    assert watched.estimate.dead_s == 0.0
