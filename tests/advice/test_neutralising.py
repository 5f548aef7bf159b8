"""Neutralisers as products: in portions that can't overshoot, with all that they move, and with curves."""

import itertools

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dosectl.chemistry.answers import dosing
from dosectl.chemistry.answers.water import Water
from dosectl.core.advice import adding, coming_down
from dosectl.core.advice.known import Field, Refused
from dosectl.core.advice.light import days_at
from dosectl.core.advice.shelf import Strength, take
from dosectl.core.requests.products import NEUTRALISER_NAMES
from tests.advice.test_answers import JUNE, exact, known, said
from tests.chemistry.test_phreeqc import Water as PhreeqcWater
from tests.chemistry.test_phreeqc import run

HIGH = known(free_chlorine=9.0)


def product(name: str) -> adding.Shelf:
    return take(name, Strength(percent=35.0 if name == "peroxide" else None))


@pytest.mark.parametrize("name", list(NEUTRALISER_NAMES))
def test_every_neutraliser_is_a_product_that_is_asked_for_by_target_and_by_amount(name: str) -> None:
    asked = adding.add(HIGH, product(name), 3.0)
    usual = asked.figure("neutraliser, usual").value
    moved = {m.name: m for m in adding.effect(HIGH, product(name), usual).moves}
    assert moved["free chlorine"].mixed == pytest.approx(3.0, abs=0.01)
    assert moved["alkalinity"].mixed < moved["alkalinity"].before
    assert moved["pH"].mixed < moved["pH"].before
    assert {"safety.reducer", "safety.enter"} <= {n.code for n in asked.safety}
    assert asked.working


@pytest.mark.parametrize(
    ("name", "grams", "reaction", "g_mol"),
    # Sulfite to sulfate; HOCl is gone and leaves HCl: per mole of each, by textbook.
    [("sulfite", 98.0, "AvOH -1 HCl 1 Na2SO4 1", 126.04), ("ascorbic-acid", 125.0, "AvOH -1 HCl 1", 176.12)],
)
def test_ph_after_a_neutraliser_against_phreeqc(name: str, grams: float, reaction: str, g_mol: float) -> None:
    # 0.03 pH, as for a shock. 1 mg/L of chlorine in 50 m3 is 0.705 mol; the usual grams take it, by the table of neutralisers.
    water = Water(50.0, 4.0, 7.5, 90.0, 40.0, salt_g_l=3.2)
    after = dosing.add(water, dosing.neutraliser(NEUTRALISER_NAMES[name]), grams)
    taken = (4.0 - after.free_chlorine_mg_l) / 70906.0
    assert taken * 50_000.0 == pytest.approx(grams / g_mol, rel=0.12)
    extra = f" Av {4.0 / 70.906}\nREACTION 1\n {reaction}\n {taken}"
    row = run([PhreeqcWater(25.0, 3.2, 90.0, 40.0, 7.5).solution(extra)], '10 PUNCH -LA("H+")', "ph")[0]
    assert after.ph == pytest.approx(row[-1], abs=0.03)


@given(st.floats(6.0, 30.0), st.floats(0.5, 5.0), st.sampled_from(list(NEUTRALISER_NAMES)))
def test_the_first_portion_does_not_overshoot_with_the_worst_test_and_volume(now: float, to: float, name: str) -> None:
    water = known(free_chlorine=now)
    asked = adding.add(water, product(name), to)
    if "advice.neutralise_doubt" in asked.codes():
        return
    first, least = asked.figure("neutraliser, first portion").value, asked.figure("neutraliser, least").value
    # By hand: the least grams that a gram of chlorine may take are those of the difference told; volume and test each at 95 %.
    for chlorine, volume in ((now - 1.96 * water[Field.FREE_CHLORINE].sigma, 50.0), (now, 50.0 * (1.0 - 1.96 * 0.1))):
        takes = (now - to) * 50.0 / least * first / volume
        assert chlorine - takes >= to - 1e-6


def test_more_than_there_is_to_take_is_told_as_what_eats_the_next_chlorine() -> None:
    much = adding.effect(HIGH, take("sulfite"), 3000.0)
    assert "advice.neutraliser_excess" in much.codes()
    assert {m.name: m.mixed for m in much.moves}["free chlorine"] == 0.0
    assert "advice.neutraliser_excess" not in adding.effect(HIGH, take("sulfite"), 300.0).codes()


def test_a_neutraliser_lowers_nothing_but_chlorine_and_never_raises_it() -> None:
    with pytest.raises(Refused, match="takes chlorine away"):
        adding.add(HIGH, take("sulfite"), 12.0)
    with pytest.raises(Refused, match="free chlorine, which it takes away"):
        adding.add(HIGH, take("sulfite"), 7.2, dosing.Goal.PH)
    with pytest.raises(Refused, match="peroxide"):
        take("peroxide")


def test_each_way_down_has_its_curve() -> None:
    answer = coming_down.come_down(known(free_chlorine=12.0), 5.0, days_at(JUNE, 45.0, 9.0))
    neutraliser, water = answer.courses
    for course in (neutraliser, water):
        for column in range(1, len(course.columns) + 1):
            told = [row[column] for row in course.rows if row[column] is not None]
            assert told[0] == pytest.approx(12.0)
            assert all(a >= b for a, b in itertools.pairwise(told))  # type: ignore[operator]
    # By hand: half of the drained water gone is half of the way; the overflow ends at the target too.
    assert water.rows[2][1] == pytest.approx(8.5)
    assert water.rows[-1][2] == pytest.approx(5.0)


def test_a_quick_fall_is_shown_in_quick_steps() -> None:
    answer = coming_down.come_down(known(free_chlorine=12.0, stabiliser=0.0), 3.0, days_at(JUNE, 45.0, 9.0))
    assert answer.curve[1][0] <= 1.0  # most of it is gone within the hour


def test_fast_losses_are_told_beside_slow_ones() -> None:
    words = said(coming_down.come_down(known(free_chlorine=12.0), 5.0, days_at(JUNE, 45.0, 9.0)))
    assert "if losses are fast" in words
    sure = coming_down.come_down(exact(free_chlorine=12.0), 5.0, days_at(JUNE, 45.0, 9.0))
    assert "29.2 to 29.2 m3" in said(sure)  # nothing in doubt: 50 x 7 / 12 m3, by hand


def test_what_an_amount_does_is_told_with_its_doubt_and_its_steps() -> None:
    asked = adding.effect(known(), take("hypochlorite", Strength(trade_percent=12.5)), 2000.0)
    # By hand: 10 % volume, 12 % of an unknown age: 1.96 x 15.6 % is 31 %.
    assert "within 31 %" in said(asked)
    assert any(w.what.startswith("free chlorine: 1 mL") and w.value == pytest.approx(5.0) for w in asked.working)
