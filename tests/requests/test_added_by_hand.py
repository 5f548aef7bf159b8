"""What a person put in by hand enters the record, moves the estimate, and is refused where nobody can tell what it did."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from dosectl.core.estimate.additions import with_addition
from dosectl.core.estimate.begin import start
from dosectl.core.estimate.filter import update
from dosectl.core.estimate.params import EstimateParams
from dosectl.core.estimate.state import EstimateInputs
from dosectl.core.estimate.view import water
from dosectl.core.requests.changes import HandAddition
from dosectl.model.reasons import Fact
from dosectl.model.requests import Place, RequestId
from dosectl.model.water_tests import Quantity, WaterTest
from tests.requests.asking import SITE, UTC_NOW, ask


def added(**facts: Fact) -> HandAddition:
    judgement = ask("added_by_hand", **facts)
    assert judgement.reply.done, judgement.reply
    assert isinstance(judgement.change, HandAddition)
    return judgement.change


def test_two_litres_of_trade_hypochlorite_are_five_milligrams_in_fifty_cubic_metres() -> None:
    # 12.5 trade % is 125 g/L by definition: 250 g in 50 m3.
    change = added(product="hypochlorite", amount=2000.0, strength_trade_percent=12.5, place=Place.REMOTE)
    assert change.free_chlorine_mg_l == pytest.approx(5.0)
    assert change.alkalinity_mg_l == pytest.approx(0.0)


@pytest.mark.parametrize(
    ("facts", "code"),
    [
        ({"product": "hypochlorite", "amount": 2000.0}, "added_by_hand.strength"),
        ({"product": "hypochlorite", "amount": 2000.0, "strength_percent": 12.5}, "added_by_hand.strength"),
        ({"product": "hypochlorite", "amount": 2000.0, "strength_trade_percent": 0.125}, "added_by_hand.strength"),
        ({"product": "acid", "amount": 500.0}, "added_by_hand.strength"),
        ({"product": "acid", "amount": 500.0, "strength_trade_percent": 12.5}, "added_by_hand.strength"),
        ({"product": "trichlor", "amount": 500.0, "strength_percent": 90.0}, "added_by_hand.strength"),
        ({"product": "hypochlorite", "amount": 2.0, "strength_trade_percent": 12.5}, "added_by_hand.small"),
        # Twenty litres, twenty-five kilograms, four kilograms, typed without looking at the unit.
        ({"product": "hypochlorite", "amount": 20.0, "strength_trade_percent": 12.5}, "added_by_hand.small"),
        ({"product": "salt", "amount": 25.0}, "added_by_hand.small"),
        ({"product": "stabiliser", "amount": 4.0}, "added_by_hand.small"),
        ({"product": "acid", "amount": 5.0, "strength_percent": 31.0}, "added_by_hand.small"),
        ({"product": "hypochlorite", "amount": 200000.0, "strength_trade_percent": 12.5}, "added_by_hand.too_much"),
        ({"product": "hypochlorite", "amount": -5.0, "strength_trade_percent": 12.5}, "request.argument"),
        ({"product": "magic", "amount": 5.0}, "request.argument"),
    ],
)
def test_what_nobody_can_count_is_not_entered(facts: dict[str, Fact], code: str) -> None:
    judgement = ask("added_by_hand", **facts)
    assert (judgement.reply.done, judgement.reply.code, judgement.change) == (False, code, None)
    judgement.reply.words.format(**dict(judgement.reply.facts))


PARAMS = EstimateParams()
BEFORE = start(SITE, PARAMS)


@settings(max_examples=50, deadline=None)
@given(st.floats(40.0, 8000.0))
def test_chlorine_by_hand_raises_the_estimate_by_what_was_put_in(millilitres: float) -> None:
    change = added(product="hypochlorite", amount=millilitres, strength_trade_percent=12.5)
    was, now = water(SITE, BEFORE), water(SITE, with_addition(SITE, BEFORE, change))
    assert now.free_chlorine_mg_l == pytest.approx(was.free_chlorine_mg_l + change.free_chlorine_mg_l)
    assert now.ph == pytest.approx(was.ph, abs=1e-6)


def test_acid_by_hand_lowers_ph_and_alkalinity() -> None:
    change = added(product="acid", amount=600.0, strength_percent=31.45)
    was, now = water(SITE, BEFORE), water(SITE, with_addition(SITE, BEFORE, change))
    assert now.alkalinity_mg_l == pytest.approx(was.alkalinity_mg_l - 6.0, abs=0.05)  # 0.50 mg/L for each mL a m3
    assert now.ph < was.ph - 0.2
    assert now.ph_sigma > was.ph_sigma


def test_stabiliser_by_hand_raises_it() -> None:
    change = added(product="stabiliser", amount=1000.0)
    was, now = water(SITE, BEFORE), water(SITE, with_addition(SITE, BEFORE, change))
    assert now.cya_mg_l == pytest.approx(was.cya_mg_l + 20.0)
    assert now.ph < was.ph


def test_trichlor_moves_all_three() -> None:
    change = added(product="trichlor", amount=500.0, strength_available_percent=90.0)
    assert change.free_chlorine_mg_l == pytest.approx(9.0)
    assert change.stabiliser_mg_l == pytest.approx(9.0 * 0.607, rel=1e-3)  # stoichiometry, as the table of products
    assert change.alkalinity_mg_l == pytest.approx(-9.0 * 0.706, rel=1e-3)


def inputs(clock_s: float, **more: object) -> EstimateInputs:
    return EstimateInputs(clock_s, UTC_NOW, 60.0, None, None, 0.05, 25.0, 0.0, (), **more)  # type: ignore[arg-type]


def test_an_update_counts_it_and_a_late_test_does_not_lose_it() -> None:
    est = update(SITE, PARAMS, BEFORE, inputs(60.0))
    for minute in range(2, 40):
        est = update(SITE, PARAMS, est, inputs(60.0 * minute))
    trichlor = added(product="trichlor", amount=500.0, strength_available_percent=90.0)
    was = water(SITE, est)
    est = update(SITE, PARAMS, est, inputs(2400.0, additions=(trichlor,)))
    now = water(SITE, est)
    assert now.free_chlorine_mg_l == pytest.approx(was.free_chlorine_mg_l + 9.0, abs=0.1)
    late = WaterTest(RequestId("t"), Quantity.FREE_CHLORINE, was.free_chlorine_mg_l, 0.3, "drops", UTC_NOW, 600.0, 2400.0, "anna")
    after = water(SITE, update(SITE, PARAMS, est, inputs(2460.0, new_tests=(late,))))
    assert after.cya_mg_l == pytest.approx(now.cya_mg_l, abs=0.5)
    assert after.free_chlorine_mg_l == pytest.approx(now.free_chlorine_mg_l, abs=0.6)
