"""What an answer must never do: send a person to a dangerous amount, a dangerous mixture, or into unproven water."""

import itertools
import math

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from dosectl.chemistry.answers.dosing import Goal
from dosectl.chemistry.products import Family
from dosectl.core.advice import acidity, adding, balance, coming_down, mix, next_test, stabiliser, swim
from dosectl.core.advice.known import Field, Known, Refused
from dosectl.core.advice.light import days_at
from dosectl.core.advice.shelf import USUAL_GOAL, Shelf, Strength, take
from dosectl.core.requests.products import HANDLED, NEUTRALISER_NAMES
from tests.advice.test_answers import ACID, CLEAR, JUNE, SWIMMABLE, TRADE, known, said, without

AVAILABLE = {"calcium-hypochlorite": 65.0, "dichlor": 60.0, "dichlor-dihydrate": 55.0, "trichlor": 90.0}


def shelf(name: str) -> Shelf:
    by_weight = 31.0 if name in ("acid", "peroxide") else None
    strength = Strength(available_percent=AVAILABLE.get(name), percent=by_weight)
    return take(name, Strength(trade_percent=12.5) if name == "hypochlorite" else strength)


@pytest.mark.parametrize(
    ("name", "goal", "target"),
    [
        ("hypochlorite", Goal.SALT, 3.4),
        ("trichlor", Goal.CYANURIC_ACID, 90.0),
        ("dichlor", Goal.CYANURIC_ACID, 70.0),
        ("calcium-hypochlorite", Goal.HARDNESS, 300.0),
        ("hypochlorite", Goal.ALKALINITY, 91.0),
        ("acid", Goal.SALT, 3.22),
        ("caustic-soda", Goal.ALKALINITY, 110.0),
        ("borax", Goal.ALKALINITY, 120.0),
        ("calcium-chloride", Goal.SALT, 3.5),
    ],
)
def test_a_side_effect_is_never_what_a_product_is_dosed_for(name: str, goal: Goal, target: float) -> None:
    # 0.2 g/L of salt out of hypochlorite would be 120 mg/L of chlorine.
    with pytest.raises(Refused, match="accepted"):
        adding.add(known(), shelf(name), target, goal)


@pytest.mark.parametrize(("name", "goal", "target"), [("acid", Goal.ALKALINITY, 60.0), ("soda-ash", Goal.ALKALINITY, 120.0)])
@pytest.mark.parametrize("field", [Field.PH, Field.STABILISER])
def test_what_moves_the_ph_is_not_portioned_blindly(name: str, goal: Goal, target: float, field: Field) -> None:
    with pytest.raises(Refused, match="unknown"):
        adding.add(without(field), shelf(name), target, goal)


@settings(max_examples=80, deadline=None)
@given(
    st.sampled_from([("acid", Goal.PH), ("acid", Goal.ALKALINITY), ("dry-acid", Goal.PH), ("soda-ash", Goal.PH),
                     ("soda-ash", Goal.ALKALINITY), ("caustic-soda", Goal.PH), ("borax", Goal.BORATE)]),
    st.floats(7.0, 8.3), st.floats(40.0, 180.0), st.floats(0.0, 100.0), st.floats(0.1, 0.9),
)  # fmt: skip
def test_no_portion_moves_the_ph_by_more_than_a_third(
    what: tuple[str, Goal], ph: float, ta: float, cya: float, share: float
) -> None:
    name, goal = what
    water = known(ph=ph, alkalinity=ta, stabiliser=cya, borate=0.0)
    target = {
        Goal.PH: ph + (-share if name in ("acid", "dry-acid") else share),
        Goal.ALKALINITY: ta + 40.0 * share * (-1.0 if name == "acid" else 1.0),
        Goal.BORATE: 50.0 * share,
    }[goal]
    try:
        asked = adding.add(water, shelf(name), target, goal)
    except Refused:
        assume(False)
    portion, count = asked.figure("portion").value, round(asked.figure("portions").value)
    levels = [ph]
    for part in range(1, count + 1):
        levels.append({m.name: m.mixed for m in adding.effect(water, shelf(name), part * portion).moves}["pH"])
    assert max(abs(b - a) for a, b in itertools.pairwise(levels)) <= 0.3 + 0.005


@settings(max_examples=40, deadline=None)
@given(st.floats(6.8, 8.4), st.floats(70.0, 250.0), st.floats(0.0, 100.0), st.floats(0.3, 0.9))
def test_a_round_of_acid_never_passes_its_own_stop(ph: float, ta: float, cya: float, share: float) -> None:
    water = known(ph=ph, alkalinity=ta, stabiliser=cya)
    try:
        asked = acidity.lower_alkalinity(water, ACID, max(20.0, share * ta))
    except Refused:  # stabiliser alone holds that much alkalinity
        assume(False)
    assert asked.figure("rounds").value >= 1.0
    first = "advice.air_first" in asked.codes()
    assert first == (ph < 7.5)
    begin = known(ph=7.5, alkalinity=ta, stabiliser=cya) if first else water
    reached = {m.name: m.mixed for m in adding.effect(begin, ACID, asked.figure("round").value).moves}["pH"]
    assert reached >= acidity.LOW_PH - 0.005


def test_rounds_of_acid_add_up_with_the_water_as_it_then_is() -> None:
    # Worked by hand with the same law of acid, one round after another: the later rounds take less.
    asked = acidity.lower_alkalinity(known(ph=7.5, alkalinity=200.0, stabiliser=0.0), ACID, 60.0)
    left, level, rounds = 140.0, 200.0, 0
    while left > 0.5:
        one = adding.add(known(ph=7.5, alkalinity=level, stabiliser=0.0), ACID, 7.1).moves
        taken = next(m.before - m.mixed for m in one if m.name == "alkalinity")
        left, level, rounds = left - taken, level - taken, rounds + 1
    assert abs(asked.figure("rounds").value - rounds) <= 1.0
    assert rounds > 7


def test_nobody_is_let_in_while_nobody_has_looked_at_the_drain() -> None:
    answer = swim.swim(SWIMMABLE, swim.Circumstances(combined_mg_l=0.1))
    assert not swim.fit(answer)
    assert "swim.unseen" in answer.codes()


@pytest.mark.parametrize("hours", [0.0, 0.5])
def test_a_turnover_of_no_time_is_refused(hours: float) -> None:
    with pytest.raises(Refused, match="turnover"):
        swim.swim(SWIMMABLE, swim.Circumstances(combined_mg_l=0.1, clear=True, added_h_ago=0.0, turnover_h=hours))


def test_the_upper_limit_is_that_of_the_least_stabiliser_the_test_allows() -> None:
    # 25 mg/L by a turbidity tube may be 12: the limit there is 5 mg/L, not 10.
    assert not swim.fit(swim.swim(known(free_chlorine=9.0, stabiliser=25.0), CLEAR))
    assert swim.fit(swim.swim(known(free_chlorine=4.0, stabiliser=25.0), CLEAR))


def test_an_amount_that_passes_the_upper_limit_says_that_nobody_swims() -> None:
    assert "advice.over_limit" in adding.effect(known(), TRADE, 20_000.0).codes()
    assert "nobody swims" in said(adding.effect(without(Field.FREE_CHLORINE), TRADE, 20_000.0))
    assert "advice.over_limit" not in adding.effect(known(), TRADE, 500.0).codes()


@pytest.mark.parametrize(
    "pair",
    # Safety data sheets and textbooks, from memory: an oxidiser with a reducer; alkali or cyanuric acid with chlorine on a ring
    # or with granules (nitrogen trichloride); acid with sulfites (sulfur dioxide); fuming acids together.
    [
        ("peroxide", "sulfite"),
        ("peroxide", "thiosulfate"),
        ("peroxide", "ascorbic-acid"),
        ("peroxide", "caustic-soda"),
        ("trichlor", "soda-ash"),
        ("trichlor", "caustic-soda"),
        ("dichlor", "bicarbonate"),
        ("stabiliser", "calcium-hypochlorite"),
        ("stabiliser", "hypochlorite"),
        ("acid", "dry-acid"),
        ("acid", "metabisulfite"),
        ("dry-acid", "caustic-soda"),
    ],
)
def test_more_mixtures_that_must_never_be(pair: tuple[str, str]) -> None:
    assert mix.refused(mix.mix(*pair))


def test_sulfite_and_acid_name_the_gas_that_comes() -> None:
    assert "sulfur dioxide" in said(mix.mix("metabisulfite", "acid"))
    assert "sulfur dioxide" not in said(mix.mix("peroxide", "hypochlorite"))


def test_what_heats_or_burns_says_so() -> None:
    def notes(name: str) -> set[str]:
        return {n.code for n in adding.effect(known(), take(name), 50.0).safety}

    assert "safety.heats" in notes("caustic-soda")
    assert "safety.heats" in notes("calcium-chloride")
    assert "safety.heats" not in notes("salt")
    down = coming_down.come_down(known(free_chlorine=12.0), 5.0, days_at(JUNE, 45.0, 9.0))
    assert "safety.reducer" in {n.code for n in down.safety}


@pytest.mark.parametrize("name", HANDLED)
def test_acid_and_chlorine_products_always_say_that_they_must_not_meet(name: str) -> None:
    product = shelf(name)
    chlorine_or_acid = product.family is Family.ACID or name in (*AVAILABLE, "hypochlorite")
    notes = {n.code for n in adding.effect(known(), product, 50.0).safety}
    assert ("safety.acid" in notes) == chlorine_or_acid
    assert name in AVAILABLE or name == "hypochlorite" or name in USUAL_GOAL or name in NEUTRALISER_NAMES


def test_peroxide_is_told_for_what_a_bottle_holds() -> None:
    answer = coming_down.come_down(known(free_chlorine=12.0), 5.0, days_at(JUNE, 45.0, 9.0), product="peroxide")
    assert "advice.neutraliser_pure" in answer.codes()


def test_waiting_words_do_not_promise_an_end_that_was_not_found() -> None:
    dark = days_at(JUNE, 45.0, 9.0, covered=True)
    water = known(free_chlorine=12.0, temperature=25.0)
    answer = coming_down.come_down(water, 2.0, dark)
    assert "at the latest after 14 days" not in said(answer)
    assert "less than 1 h" not in coming_down.time_words(0.4)
    gone = coming_down.come_down(known(free_chlorine=10.0, stabiliser=0.0), 0.0, days_at(JUNE, 45.0, 9.0))
    assert "advice.wait" in gone.codes()
    swimming = swim.swim(known(free_chlorine=30.0), CLEAR, dark)
    assert "at the latest later" not in said(swimming)


def test_a_neutraliser_may_be_written_as_everywhere_else() -> None:
    answer = coming_down.come_down(known(free_chlorine=12.0), 5.0, days_at(JUNE, 45.0, 9.0), product="thiosulfate-pentahydrate")
    assert answer.figure("neutraliser, least").value == pytest.approx(350.0 * 0.875)


def test_a_change_inside_the_tests_doubt_has_a_range_that_starts_at_nothing() -> None:
    # 3.0 +- 0.25 to 3.1: the whole of the doubt is 2.5 times the dose (0.1), by hand.
    figure = adding.add(known(free_chlorine=3.0), TRADE, 3.1).figure("amount")
    assert figure.sigma == pytest.approx(figure.value * (2.5**2 + 0.1**2 + 0.12**2) ** 0.5, rel=0.01)


def test_a_chlorine_of_none_is_as_doubtful_as_a_little() -> None:
    none = adding.add(known(free_chlorine=0.0), TRADE, 2.0).figure("amount")
    # 0.25 mg/L of 2 (12.5 %), volume 10 %, strength 12 %, by hand.
    assert none.sigma == pytest.approx(none.value * (0.125**2 + 0.1**2 + 0.12**2) ** 0.5, rel=0.01)


def test_chlorine_is_tested_before_hardness_when_nothing_was_ever_tested() -> None:
    names = [f.name for f in next_test.next_test({}, next_test.Past({})).figures]
    assert names[:2] == ["free chlorine", "pH"]
    due = [f.value for f in next_test.next_test({}, next_test.Past({Field.FREE_CHLORINE: 2.0, Field.PH: 6.0})).figures]
    assert due == sorted(due)


def test_the_balance_of_a_salt_pool_is_not_told_as_of_fresh_water() -> None:
    with pytest.raises(Refused, match="salt"):
        balance.balance(without(Field.SALT))
    assert "advice.taken" in balance.balance(without(Field.SALT), salt_pool=False).codes()


def test_no_stabiliser_is_no_reason_to_hold_no_chlorine() -> None:
    # 0.02 mg/L of hypochlorous acid would be 0.04 mg/L of chlorine: below what codes ask of any water.
    assert "1 mg/L of free chlorine" in said(stabiliser.stabiliser(known(stabiliser=0.0)))


def test_too_much_stabiliser_is_told_even_where_the_volume_is_not_known() -> None:
    high: Known = {field: value for field, value in known(stabiliser=120.0).items() if field is not Field.VOLUME}
    assert {"advice.stabiliser_unswimmable", "advice.stabiliser_volume"} <= set(stabiliser.stabiliser(high).codes())


@pytest.mark.parametrize(
    ("changes", "fits"),
    # The widely used model code for public pools, from memory: 1 mg/L without stabiliser, 2 with it; pH 7.0 to 7.8; to 90 of it.
    [
        ({"free_chlorine": 2.9, "stabiliser": 30.0}, True),
        ({"free_chlorine": 2.3, "stabiliser": 30.0}, False),  # by drops it may be 1.8
        ({"free_chlorine": 1.6, "stabiliser": 0.0}, True),
        ({"free_chlorine": 1.3, "stabiliser": 0.0}, False),  # by drops it may be 0.8
        ({"ph": 6.95}, False),
        ({"ph": 7.0}, False),  # by drops it may be 6.85
        ({"ph": 7.2}, True),
        ({"ph": 7.85}, False),
        ({"ph": 7.6}, True),
        ({"free_chlorine": 8.0, "stabiliser": 95.0}, False),
        ({"free_chlorine": 8.0, "stabiliser": 85.0}, True),
    ],
)
def test_the_lines_against_swimming_lie_where_codes_have_them(changes: dict[str, float], fits: bool) -> None:
    water = known(**{"free_chlorine": 4.0, **changes})
    assert swim.fit(swim.swim(water, CLEAR)) == fits


@pytest.mark.parametrize(("combined", "fits"), [(0.4, True), (0.45, False)])
def test_combined_chlorine_of_more_than_the_model_code_has_keeps_people_out(combined: float, fits: bool) -> None:
    assert swim.fit(swim.swim(SWIMMABLE, swim.Circumstances(combined_mg_l=combined, clear=True))) == fits


def test_a_large_rise_of_alkalinity_comes_in_portions_of_thirty() -> None:
    assert adding.add(known(alkalinity=60.0), take("bicarbonate"), 150.0).figure("portions").value >= 3.0


def test_the_time_of_aeration_lies_between_its_first_and_its_last_rate() -> None:
    # By hand: the CO2 to lose over the rates at the two ends, with film velocities of 2 and 12 cm/h (common practice).
    answer = acidity.aerate(known(ph=7.2, alkalinity=100.0, stabiliser=0.0, salt=0.0, free_chlorine=0.0), 7.5, depth_m=1.5)
    # H2CO3* by pK1 6.35, pK2 10.33 (25 C, textbook): 2.0 meq/L / 10^(pH - 6.35), less 0.013 mmol/L in balance with air.
    at_start, at_end = 2.0 / 10**0.85, 2.0 / 10**1.15
    lost = at_start - at_end + 2.0 * (10 ** (7.5 - 10.33) - 10 ** (7.2 - 10.33))
    for name, velocity in (("time, stirred", 0.12), ("time, quiet", 0.02)):
        fast, slow = (lost * 1.5 / (velocity * (held - 0.013)) for held in (at_start, at_end))
        assert 0.9 * fast < answer.figure(name).value < 1.1 * slow  # 10 %: activity coefficients


def test_stabiliser_is_judged_for_the_pool_that_it_is() -> None:
    # Common practice: 0.02 mg/L of hypochlorous acid with a chlorinator, 0.03 without.
    with_cell, without_cell = (stabiliser.stabiliser(known(), salt_pool=salt).figures[0].value for salt in (True, False))
    assert 1.2 < without_cell / with_cell < 1.6


def test_a_name_plate_is_doubted_more_than_a_label() -> None:
    cell = adding.effect(known(), take("chlorinator", Strength(output_g_h=20.0)), 5.0).figure("doubt of each change").value
    acid = adding.effect(known(), ACID, 100.0).figure("doubt of each change").value
    assert cell == pytest.approx(100.0 * (0.2**2 + 0.1**2) ** 0.5)
    assert acid == pytest.approx(100.0 * (0.05**2 + 0.1**2) ** 0.5)


def test_ph_below_seven_is_warned_of() -> None:
    assert "advice.ph_low" in adding.effect(known(ph=7.2), ACID, 900.0).codes()
    assert "advice.ph_low" not in adding.effect(known(ph=7.5), ACID, 100.0).codes()


@pytest.mark.parametrize(
    ("hardness", "ph", "words"), [(1000.0, 8.2, "settle"), (60.0, 7.0, "dissolve"), (350.0, 7.5, "in balance")]
)
def test_the_balance_says_which_way_the_water_leans(hardness: float, ph: float, words: str) -> None:
    assert words in said(balance.balance(known(hardness=hardness, ph=ph))).split(" | ")[0]


def test_the_slow_curve_begins_at_the_most_the_test_allows_and_loses_little() -> None:
    answer = coming_down.come_down(known(free_chlorine=12.0), 5.0, days_at(JUNE, 45.0, 9.0, covered=True))
    _, likely, slow = answer.curve[0]
    assert slow == pytest.approx(likely + 1.96 * 0.6)  # 5 % of 12 by drops
    (_, likely_end, slow_end), hours = answer.curve[-1], answer.curve[-1][0]
    dark = [-(math.log(end / begin)) / hours for begin, end in ((likely, likely_end), (slow, slow_end))]
    assert dark[0] / dark[1] == pytest.approx(1.7, rel=0.01)  # the factor that losses may be off by
