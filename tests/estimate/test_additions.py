"""What was put in by hand never went through a feeder: it is counted whole, teaches nothing of one, and may be entered late."""

from dataclasses import replace
from math import exp, log

import pytest

from dosectl.core.estimate.begin import start
from dosectl.core.estimate.filter import update
from dosectl.core.estimate.filters import rows_of
from dosectl.core.estimate.params import EstimateParams
from dosectl.core.estimate.state import CHLORINE, EFFECT, Estimate, EstimateInputs
from dosectl.core.estimate.view import water
from dosectl.core.requests.changes import HandAddition
from dosectl.model.reasons import Fact
from dosectl.model.requests import RequestId
from dosectl.model.water_tests import Quantity, WaterTest
from tests.requests.asking import SITE, UTC_NOW, ask

PARAMS = EstimateParams()
HOUR_S = 3600.0
TWO_LITRES: dict[str, Fact] = {"product": "hypochlorite", "amount": 2000.0, "strength_trade_percent": 12.5}


def inputs(clock_s: float, **more: object) -> EstimateInputs:
    return EstimateInputs(clock_s, UTC_NOW, 60.0, None, None, 0.05, 25.0, 0.0, (), **more)  # type: ignore[arg-type]


def added(at_s: float, mg_l: float) -> HandAddition:
    return HandAddition(RequestId("a"), at_s, "anna", "hypochlorite", mg_l, 0.0, 0.0)


def a_test(mg_l: float, taken_s: float, entered_s: float) -> WaterTest:
    return WaterTest(RequestId(f"t{taken_s}"), Quantity.FREE_CHLORINE, mg_l, 0.2, "drops", UTC_NOW, taken_s, entered_s, "anna")


def a_worn_feeder() -> Estimate:
    """Four quiet hours of a pool whose feeder gives six tenths of what it is said to."""
    est = start(SITE, PARAMS, clock_s=0.0)
    mean = list(est.mean)
    mean[EFFECT] = log(0.6)
    est = replace(est, mean=tuple(mean))
    for minute in range(1, 241):
        est = update(SITE, PARAMS, est, inputs(60.0 * minute))
    return est


def run(est: Estimate, from_s: float, hours: float) -> Estimate:
    for minute in range(1, round(60.0 * hours) + 1):
        est = update(SITE, PARAMS, est, inputs(from_s + 60.0 * minute))
    return est


def test_a_late_test_that_runs_the_hours_again_leaves_the_whole_of_a_hand_dose() -> None:
    est = a_worn_feeder()
    now_s = est.updated_s or 0.0
    est = update(SITE, PARAMS, est, inputs(now_s + 60.0, additions=(added(now_s + 60.0, 5.0),)))
    est = run(est, now_s + 60.0, 1.0)
    before = water(SITE, est).free_chlorine_mg_l
    # The late test finds what was believed two hours ago, so nothing is to move.
    found = next(exp(h.mean[CHLORINE]) for h in est.history if h.start_s >= 2.0 * HOUR_S)
    late = a_test(found, 2.0 * HOUR_S, est.updated_s or 0.0)
    after = water(SITE, update(SITE, PARAMS, est, inputs((est.updated_s or 0.0) + 60.0, new_tests=(late,))))
    assert after.free_chlorine_mg_l == pytest.approx(before, abs=0.1)


def test_a_hand_dose_teaches_nothing_of_the_feeder_even_after_a_late_test() -> None:
    est = a_worn_feeder()
    now_s = est.updated_s or 0.0
    est = update(SITE, PARAMS, est, inputs(now_s + 60.0, additions=(added(now_s + 60.0, 5.0),)))
    est = run(est, now_s + 60.0, 0.5)
    found = next(exp(h.mean[CHLORINE]) for h in est.history if h.start_s >= 2.0 * HOUR_S)
    clock_s = (est.updated_s or 0.0) + 60.0
    est = update(SITE, PARAMS, est, inputs(clock_s, new_tests=(a_test(found, 2.0 * HOUR_S, clock_s),)))
    # Nothing was fed in all this time, so nothing ties the chlorine to what feeders give, and a low test says nothing of them.
    assert rows_of(est.cov)[CHLORINE][EFFECT] == pytest.approx(0.0, abs=1e-9)
    taught = est.mean[EFFECT]
    low = a_test(0.6 * water(SITE, est).free_chlorine_mg_l, clock_s + 60.0, clock_s + 60.0)
    est = update(SITE, PARAMS, est, inputs(clock_s + 60.0, new_tests=(low,)))
    assert est.mean[EFFECT] == pytest.approx(taught, abs=1e-6)


@pytest.mark.parametrize("mg_l", [4.0, -1.2])
def test_an_addition_that_is_entered_late_ends_where_one_told_in_time_does(mg_l: float) -> None:
    est = a_worn_feeder()
    at_s = est.updated_s or 0.0
    in_time = run(update(SITE, PARAMS, est, inputs(at_s + 60.0, additions=(added(at_s + 60.0, mg_l),))), at_s + 60.0, 5.0)
    told_late = run(est, at_s, 5.0)
    now_s = (told_late.updated_s or 0.0) + 60.0
    told_late = update(SITE, PARAMS, told_late, inputs(now_s, additions=(added(at_s + 60.0, mg_l),)))
    told_now = update(SITE, PARAMS, run(est, at_s, 5.0), inputs(now_s, additions=(added(now_s, mg_l),)))
    expected = water(SITE, in_time).free_chlorine_mg_l
    assert water(SITE, told_late).free_chlorine_mg_l == pytest.approx(expected, rel=0.03)
    assert abs(water(SITE, told_now).free_chlorine_mg_l - expected) > 0.03


def test_a_neutraliser_by_hand_lowers_the_chlorine_and_widens_the_doubt() -> None:
    est = a_worn_feeder()
    now_s = est.updated_s or 0.0
    was = water(SITE, est)
    judgement = ask("added_by_hand", product="sulfite", amount=100.0)
    assert judgement.reply.done, judgement.reply
    assert isinstance(judgement.change, HandAddition)
    change = replace(judgement.change, at_s=now_s + 60.0)
    # 1.96 g usually take 1 g (a field guide): 100 g in 50 m3 take 1.02 mg/L.
    assert change.free_chlorine_mg_l == pytest.approx(-100.0 / 1.96 / 50.0, rel=1e-3)
    now = water(SITE, update(SITE, PARAMS, est, inputs(now_s + 60.0, additions=(change,))))
    assert now.free_chlorine_mg_l == pytest.approx(was.free_chlorine_mg_l - 1.02, abs=0.05)
    assert now.sigma_mg_l / now.free_chlorine_mg_l > was.sigma_mg_l / was.free_chlorine_mg_l


def test_more_neutraliser_than_chlorine_leaves_a_water_that_can_still_be_computed() -> None:
    est = a_worn_feeder()
    now_s = est.updated_s or 0.0
    est = update(SITE, PARAMS, est, inputs(now_s + 60.0, additions=(added(now_s + 60.0, -30.0),)))
    assert 0.0 < water(SITE, run(est, now_s + 60.0, 1.0)).free_chlorine_mg_l < 0.5


@pytest.mark.parametrize(
    ("facts", "code"),
    [
        ({"product": "salt", "amount": 25_000.0}, "added_by_hand.entered_untracked"),
        ({"product": "borax", "amount": 5_000.0}, "added_by_hand.entered_untracked"),
        (
            {"product": "hypochlorite", "amount": 2000.0, "strength_trade_percent": 12.5, "hours_ago": 14.0},
            "added_by_hand.entered",
        ),
        ({"product": "sulfite", "amount": 100.0, "strength_available_percent": 90.0}, "added_by_hand.strength"),
        ({**TWO_LITRES, "hours_ago": 90.0}, "request.argument"),
        ({"product": "peroxide", "amount": 500.0}, "added_by_hand.strength"),
    ],
)
def test_what_is_said_of_an_entry(facts: dict[str, Fact], code: str) -> None:
    judgement = ask("added_by_hand", **facts)
    assert judgement.reply.code == code
    judgement.reply.words.format(**dict(judgement.reply.facts))
    if "hours_ago" in facts and isinstance(judgement.change, HandAddition):
        ago = ask("added_by_hand", **{k: v for k, v in facts.items() if k != "hours_ago"}).change
        assert isinstance(ago, HandAddition)
        assert judgement.change.at_s == pytest.approx(ago.at_s - 14.0 * HOUR_S)


def test_no_strength_is_not_told_as_one_that_nobody_said() -> None:
    reply = ask("added_by_hand", product="hypochlorite", amount=2000.0).reply
    assert "12.5" not in str(dict(reply.facts)["why"])
