"""Chlorine without a reading: the announced, bounded rate, hand tests, and back again."""

from dataclasses import replace

import pytest

from dosectl.core.control import ControlState
from dosectl.core.evidence import Standing
from dosectl.core.interlocks.fallback import LEAST_USUAL_MG_L
from dosectl.model.feeds import Origin, Substance
from dosectl.model.water_tests import Quantity
from tests.control.closed_loop import hand_test
from tests.control.wished import CELL, HYPO, PARAMS, Run
from tests.estimate.toy_pool import cell, chlorine_pump


@pytest.mark.parametrize("lost", ["orp", "ph"])
def test_a_lost_reading_falls_to_the_announced_rate_and_comes_back(lost: str) -> None:
    run = Run(cell(), chlorine_pump())
    run.run(0.5)
    setattr(run, lost, None)
    run.run(0.1)
    assert run.view is not None
    assert not run.view.fallback
    before = run.fed_mg_l(CELL) + run.fed_mg_l(HYPO)
    run.run(23.9)
    assert run.view.fallback
    assert run.view.fallback_why is not None
    assert str(run.view.fallback_why.code) == f"control.fallback_no_{lost}"
    fed = run.fed_mg_l(CELL) + run.fed_mg_l(HYPO) - before
    assert fed == pytest.approx(0.6 * 2.5, rel=0.25)
    origins = {wish.origin for _, wished in run.history[-600:] for wish in wished}
    assert origins == {Origin.FALLBACK}
    setattr(run, lost, 700.0 if lost == "orp" else 7.5)
    run.step()
    assert run.view is not None
    assert not run.view.fallback


def test_it_is_60_percent_of_the_usual_for_a_week_and_30_after_it() -> None:
    run = Run(cell())
    run.orp = None
    days = (2.0, 3.0, 3.0, 3.5)
    run.standing = Standing(daily_use_mg_l=((Substance.CHLORINE, days),), fallback_since_s=run.pool.now_s)
    run.run(24.0)
    first = run.fed_mg_l(CELL)
    assert first == pytest.approx(0.6 * 3.0, rel=0.2)
    run.standing = replace(run.standing, fallback_since_s=run.pool.now_s - 8 * 86400.0)
    run.run(24.0)
    assert run.fed_mg_l(CELL) - first == pytest.approx(0.3 * 3.0, rel=0.25)


@pytest.mark.parametrize("tested", [False, True])
def test_a_pool_that_took_nothing_yet_falls_back_to_the_least_usual_and_not_to_nothing(tested: bool) -> None:
    """A pump taken into use in October on water that was shocked by hand: each accepted day fed 0.0, then the cable breaks."""
    run = Run(cell())
    run.orp = None
    run.standing = Standing(daily_use_mg_l=((Substance.CHLORINE, (0.0,) * 5),), fallback_since_s=run.pool.now_s)
    if tested:
        run.tests = (hand_test(run.pool, Quantity.FREE_CHLORINE, 3.1, 0.2),)
    run.run(24.0)
    most = 1.3 if tested else 0.75  # beside a test the model goes on, up to some more than all of the usual use
    assert 0.45 * LEAST_USUAL_MG_L <= run.fed_mg_l(CELL) <= most * LEAST_USUAL_MG_L


def test_a_hand_test_of_the_week_lets_the_model_go_on_up_to_some_more_than_the_usual() -> None:
    """The loss of this water, 2.5 mg/L a day, is about what is usual; with more than its aim in it only the share is fed."""
    fed = {}
    for free in (2.0, 3.1):
        run = Run(cell(), free_chlorine_mg_l=free)
        run.orp = None
        days = (3.0,) * 4
        run.standing = Standing(daily_use_mg_l=((Substance.CHLORINE, days),), fallback_since_s=run.pool.now_s - 20 * 86400.0)
        run.tests = (hand_test(run.pool, Quantity.FREE_CHLORINE, free, 0.2),)
        run.run(24.0)
        fed[free] = run.fed_mg_l(CELL)
    assert fed[2.0] == pytest.approx(1.3 * 3.0, rel=0.1)
    assert fed[3.1] == pytest.approx(0.6 * 3.0, rel=0.25)


@pytest.mark.parametrize("guess_mg_l", [1.5, 2.5])
def test_hardly_known_chlorine_is_fed_for_between_60_percent_and_all_of_the_usual(guess_mg_l: float) -> None:
    run = Run(cell(), free_chlorine_mg_l=guess_mg_l, low95_mg_l=0.4, high95_mg_l=6.0, sigma_mg_l=0.75 * guess_mg_l).run(12.0)
    assert run.view is not None
    assert run.view.fallback_why is not None
    assert str(run.view.fallback_why.code) == "control.fallback_unsure"
    usual_mg_l = 2.5 * 12.0 / 24.0
    assert 0.6 * usual_mg_l * 0.75 <= run.fed_mg_l(CELL) <= usual_mg_l * 1.05


def test_on_fall_back_an_overdose_still_fades() -> None:
    run = Run(cell(), free_chlorine_mg_l=6.0)
    run.orp = None
    run.run(6.0)
    assert run.fed_mg_l(CELL) == 0.0


def test_a_pause_of_the_pump_is_no_lost_reading() -> None:
    run = Run(cell())
    run.flow_since_s, run.orp, run.ph = None, None, None
    run.run(10.0)
    assert run.view is not None
    assert not run.view.fallback


# --- the view -----------------------------------------------------------------------------------------------------------------


def test_with_the_wall_clock_in_doubt_the_fall_back_waits_and_no_hours_are_learnt() -> None:
    run = Run(cell())
    run.orp, run.clock_trusted = None, False
    run.run(6.0)
    assert run.fed_mg_l(CELL) == 0.0
    assert run.why(CELL) == "control.fallback_clock"
    assert run.state.habit == ControlState().habit


def test_settings_set_to_hold_hold_on_a_lost_reading() -> None:
    run = Run(cell(), params=replace(PARAMS, fallback_share=0.0))
    run.orp = None
    run.run(6.0)
    assert run.fed_mg_l(CELL) == 0.0
    assert run.why(CELL) == "control.fallback_hold"
