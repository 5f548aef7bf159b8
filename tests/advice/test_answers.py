"""Answers to an owner's questions, against worked examples and the chemistry itself."""

import itertools
from collections.abc import Callable
from datetime import UTC, datetime

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from dosectl.chemistry.answers.dosing import Goal
from dosectl.core.advice import acidity, adding, balance, coming_down, meaning, mix, next_test, salt, stabiliser, swim
from dosectl.core.advice.answer import Answer
from dosectl.core.advice.known import Field, Known, Refused, Value
from dosectl.core.advice.known import given as told
from dosectl.core.advice.light import days_at
from dosectl.core.advice.shelf import Strength, take
from dosectl.core.requests.products import NAMES
from dosectl.texts.render import sentence

POOL = {
    Field.VOLUME: 50.0,
    Field.FREE_CHLORINE: 3.0,
    Field.PH: 7.5,
    Field.ALKALINITY: 90.0,
    Field.STABILISER: 50.0,
    Field.HARDNESS: 250.0,
    Field.SALT: 3.2,
    Field.TEMPERATURE: 25.0,
}
JUNE = datetime(2026, 6, 21, 10, 0, tzinfo=UTC)


def known(**changes: float) -> Known:
    """A usual pool; a change is named as the field's member, in lower case."""
    values = {**POOL, **{Field[name.upper()]: value for name, value in changes.items()}}
    return {field: told(field, value) for field, value in values.items()}


def without(*fields: Field) -> Known:
    return {field: value for field, value in known().items() if field not in fields}


def exact(**changes: float) -> Known:
    return {field: Value(value.value, 0.0, "exact") for field, value in known(**changes).items()}


ACID = take("acid", Strength(percent=31.45, density_kg_l=1.16))
TRADE = take("hypochlorite", Strength(trade_percent=12.5))


def said(answer: Answer) -> str:
    return " | ".join(sentence(s.kind.words, s.facts, UTC) for s in answer.says)


def test_eight_millilitres_a_cubic_metre_of_twelve_and_a_half_trade_percent_are_one_milligram() -> None:
    # Stoichiometry of the trade percent: 100 / 12.5 mL per m3 and mg/L.
    assert adding.add(known(free_chlorine=2.0), TRADE, 4.0).figure("amount").value == pytest.approx(800.0)


def test_acid_for_the_worked_water() -> None:
    # PHREEQC: TA 80, CYA 30, 3.2 g/kg, pH 7.8 to 7.5: 5.97 mL of 31.45 % a m3. 2 % as for the acid-demand table.
    answer = adding.add(known(ph=7.8, alkalinity=80.0, stabiliser=30.0, free_chlorine=0.0), ACID, 7.5)
    assert answer.figure("amount").value / 50.0 == pytest.approx(5.97, rel=0.02)
    assert "advice.acid_both" in answer.codes()


def test_bicarbonate_and_calcium_by_stoichiometry() -> None:
    # 16.8 g/m3 of NaHCO3 for 10 mg/L of alkalinity, 11.1 g/m3 of CaCl2 for 10 mg/L of hardness: molar masses.
    assert adding.add(known(), take("bicarbonate"), 100.0).figure("amount").value / 50.0 == pytest.approx(16.8, rel=0.002)
    assert adding.add(known(), take("calcium-chloride"), 260.0).figure("amount").value / 50.0 == pytest.approx(11.1, rel=0.002)


def test_doubt_comes_from_test_volume_and_strength() -> None:
    # Root of squares by hand: 0.25 of 2 mg/L (12.5 %), 10 % volume, 12 % strength.
    figure = adding.add(known(free_chlorine=2.0), TRADE, 4.0).figure("amount")
    assert figure.sigma == pytest.approx(800.0 * (0.125**2 + 0.1**2 + 0.12**2) ** 0.5, rel=1e-3)


@settings(max_examples=60, deadline=None)
@given(st.floats(7.55, 8.2), st.floats(6.9, 7.5), st.floats(50.0, 180.0), st.floats(0.0, 100.0), st.floats(1.0, 300.0))
def test_the_acid_told_reaches_the_target_when_it_is_poured_in(
    ph: float, to: float, ta: float, cya: float, volume: float
) -> None:
    water = known(ph=ph, alkalinity=ta, stabiliser=cya, volume=volume)
    asked = adding.add(water, ACID, to)
    amount, count = asked.figure("amount").value, round(asked.figure("portions").value)
    assert asked.figure("portion").value * count == pytest.approx(amount)
    reached = {moved.name: moved.mixed for moved in adding.effect(water, ACID, amount).moves}
    assert reached["pH"] == pytest.approx(to, abs=0.002)


@settings(max_examples=60, deadline=None)
@given(st.floats(0.0, 5.0), st.floats(0.3, 5.0), st.sampled_from(["trichlor", "dichlor", "calcium-hypochlorite"]))
def test_the_chlorine_told_reaches_the_target(now: float, more: float, name: str) -> None:
    product = take(name, Strength(available_percent=55.0))
    water = known(free_chlorine=now)
    asked = adding.add(water, product, now + more)
    reached = {m.name: m.mixed for m in adding.effect(water, product, asked.figure("amount").value).moves}
    assert reached["free chlorine"] == pytest.approx(now + more)


def test_trichlor_warns_of_the_stabiliser_it_brings() -> None:
    answer = adding.add(known(free_chlorine=1.0), take("trichlor", Strength(available_percent=90.0)), 4.0)
    assert "advice.stabiliser_stays" in answer.codes()
    assert {"safety.tablets", "safety.skimmer", "safety.to_water"} <= {note.code for note in answer.safety}


def test_side_effects_that_rest_on_unknown_values_are_not_told() -> None:
    water = without(Field.PH, Field.ALKALINITY, Field.STABILISER)
    answer = adding.add(water, TRADE, 4.0)
    assert not {"pH", "hypochlorous acid", "saturation index"} & {moved.name for moved in answer.moves}
    assert "advice.untold" in answer.codes()


def test_a_change_smaller_than_the_tests_doubt_asks_for_another_test() -> None:
    assert "advice.within_doubt" in adding.add(known(free_chlorine=3.0), TRADE, 3.3).codes()


def test_old_hypochlorite_takes_more() -> None:
    # Decay table: 12.5 trade % has a half-life of 187 days at 25 C, so after 187 days twice as much.
    old = take("hypochlorite", Strength(trade_percent=12.5, age_days=187.0, storage_c=25.0))
    assert adding.add(known(free_chlorine=2.0), old, 4.0).figure("amount").value == pytest.approx(1600.0, rel=0.01)


def test_lowering_alkalinity_takes_half_a_milligram_a_millilitre_a_cubic_metre() -> None:
    # 1 mL/m3 of 31.45 % takes 0.50 mg/L: stoichiometry.
    answer = acidity.lower_alkalinity(known(alkalinity=120.0), ACID, 100.0)
    assert answer.figure("amount").value == pytest.approx(20.0 / 0.50 * 50.0, rel=0.005)
    assert "advice.acid_honest" in answer.codes()
    assert "nothing lowers alkalinity alone" in said(answer)


def test_air_alone_can_not_pass_its_own_balance() -> None:
    # PHREEQC: alkalinity 80 without stabiliser ends at pH 8.29 in balance with air at 25 C.
    water = known(alkalinity=80.0, stabiliser=0.0, ph=7.2, salt=0.0)
    assert "advice.no_air" in acidity.aerate(water, 8.35).codes()
    assert "advice.aerate" in acidity.aerate(water, 7.5).codes()


@pytest.mark.parametrize(
    ("temp", "ph", "ta", "cya", "ch", "grams", "index"),
    # PHREEQC, calcite: the five worked waters.
    [
        (25.0, 7.5, 100.0, 0.0, 300.0, 0.5, 0.119),
        (25.0, 7.5, 100.0, 0.0, 300.0, 3.2, -0.045),
        (25.0, 7.5, 80.0, 50.0, 350.0, 3.2, -0.176),
        (25.0, 7.8, 120.0, 80.0, 400.0, 3.2, 0.325),
        (25.0, 7.6, 70.0, 70.0, 400.0, 5.0, -0.222),
    ],
)
def test_balance_against_phreeqc(temp: float, ph: float, ta: float, cya: float, ch: float, grams: float, index: float) -> None:
    water = known(temperature=temp, ph=ph, alkalinity=ta, stabiliser=cya, hardness=ch, salt=grams)
    figure = balance.balance(water).figure("saturation index")
    assert figure.value == pytest.approx(index, abs=0.05)
    assert figure.sigma is not None
    assert figure.sigma > 0.05


def test_coming_down_curve_falls_and_the_slow_one_stays_above() -> None:
    days = days_at(JUNE, 45.0, 9.0)
    answer = coming_down.come_down(known(free_chlorine=12.0), 5.0, days)
    likely, slow = [point[1] for point in answer.curve], [point[2] for point in answer.curve]
    assert all(a >= b for a, b in itertools.pairwise(likely))
    assert all(a <= b for a, b in zip(likely, slow, strict=True))
    # 7 mg/L in 50 m3 are 350 g; thiosulfate pentahydrate 0.875 g/g at the least, by stoichiometry.
    assert answer.figure("neutraliser, least").value == pytest.approx(350.0 * 0.875)
    assert answer.figure("water to replace").value == pytest.approx(50.0 * 7.0 / 12.0)


def test_a_cover_makes_waiting_longer() -> None:
    water = known(free_chlorine=12.0)
    open_h = coming_down.come_down(water, 5.0, days_at(JUNE, 45.0, 9.0)).figure("wait").value
    shut_h = coming_down.come_down(water, 5.0, days_at(JUNE, 45.0, 9.0, covered=True)).figure("wait").value
    assert shut_h > open_h


def test_stabiliser_too_high_names_the_water_to_replace() -> None:
    answer = stabiliser.stabiliser(known(stabiliser=300.0), target_mg_l=50.0)
    assert "advice.stabiliser_unreachable" in answer.codes()
    assert answer.figure("water to replace").value == pytest.approx(50.0 * 250.0 / 300.0)
    assert "advice.stabiliser_unswimmable" in stabiliser.stabiliser(known(stabiliser=120.0)).codes()
    assert "advice.stabiliser_fits" in stabiliser.stabiliser(known()).codes()


def test_combined_is_the_difference_and_carries_both_errors() -> None:
    answer = meaning.chlorine_split(2.0, 3.5, "drops")
    figure = answer.figure("combined chlorine")
    assert figure.value == pytest.approx(1.5)
    assert figure.sigma == pytest.approx(0.354, abs=0.01)  # one drop of 0.25 each
    assert "advice.combined_high" in answer.codes()
    assert "advice.combined_uncertain" in meaning.chlorine_split(2.0, 2.2, "drops").codes()


def test_strips_are_told_to_be_worse_than_drops() -> None:
    strips = meaning.meaning(Field.FREE_CHLORINE, 3.0, "strips")
    assert "advice.against_drops" in strips.codes()
    assert (strips.figures[0].sigma or 0.0) > (meaning.meaning(Field.FREE_CHLORINE, 3.0, "drops").figures[0].sigma or 9.0)


SWIMMABLE = known(free_chlorine=4.0)
CLEAR = swim.Circumstances(combined_mg_l=0.2, clear=True)


def test_a_good_water_gives_no_reason_against_and_still_no_blessing() -> None:
    answer = swim.swim(SWIMMABLE, CLEAR)
    assert swim.fit(answer)
    assert "less than safe" in said(answer)
    assert {"swim.conditions", "swim.codes"} <= set(answer.codes())


@pytest.mark.parametrize(
    ("water", "around", "code"),
    [
        (known(free_chlorine=1.0), CLEAR, "swim.too_little"),
        (known(free_chlorine=25.0), CLEAR, "swim.too_much"),
        (known(free_chlorine=4.0, ph=8.1), CLEAR, "swim.ph"),
        (known(free_chlorine=4.0, stabiliser=120.0), CLEAR, "swim.stabiliser"),
        (known(free_chlorine=4.0, stabiliser=180.0), CLEAR, "swim.too_weak"),
        (known(free_chlorine=4.0, temperature=41.0), CLEAR, "swim.hot"),
        (SWIMMABLE, swim.Circumstances(combined_mg_l=0.8), "swim.combined"),
        (SWIMMABLE, swim.Circumstances(clear=False), "swim.cloudy"),
        (SWIMMABLE, swim.Circumstances(added_h_ago=1.0), "swim.added"),
        (SWIMMABLE, swim.Circumstances(age_h=48.0), "swim.old"),
        (SWIMMABLE, swim.Circumstances(fouled=True), "swim.fouled"),
        (without(Field.FREE_CHLORINE), CLEAR, "swim.unknown"),
        (without(Field.PH), CLEAR, "swim.unknown"),
        (without(Field.STABILISER), CLEAR, "swim.unknown"),
    ],
)
def test_each_reason_against_swimming_speaks(water: Known, around: swim.Circumstances, code: str) -> None:
    answer = swim.swim(water, around, days_at(JUNE, 45.0, 9.0))
    assert not swim.fit(answer)
    assert code in answer.codes()


def test_next_test_names_what_was_never_tested_and_what_is_old() -> None:
    ages = {Field.FREE_CHLORINE: 1.0, Field.PH: 8.0, Field.STABILISER: 3.0, Field.HARDNESS: 5.0, Field.SALT: 2.0}
    answer = next_test.next_test(exact(), next_test.Past(ages))
    due = {figure.name for figure in answer.figures if figure.value == 0.0}
    assert due == {"pH", "total alkalinity"}
    moved = next_test.next_test(exact(), next_test.Past(ages, changed=frozenset({Field.SALT})))
    assert "salt" in {figure.name for figure in moved.figures if figure.value == 0.0}


def test_salt_is_added_or_water_replaced() -> None:
    # 1 kg a m3 for 1 g/L: stoichiometry.
    assert salt.salt(known(salt=2.4), 3.2).figure("amount").value == pytest.approx(40_000.0)
    assert salt.salt(known(salt=5.0), 3.2).figure("water to replace").value == pytest.approx(50.0 * 1.8 / 5.0)


DEADLY = [
    ("acid", "hypochlorite"),
    ("dry-acid", "hypochlorite"),
    ("acid", "trichlor"),
    ("calcium-hypochlorite", "trichlor"),
    ("dichlor", "calcium-hypochlorite"),
    ("dichlor", "trichlor"),
    ("thiosulfate", "hypochlorite"),
    ("acid", "soda-ash"),
]


@pytest.mark.parametrize("pair", DEADLY)
def test_mixtures_that_must_never_be_are_refused_with_the_danger(pair: tuple[str, str]) -> None:
    answer = mix.mix(*pair)
    assert mix.refused(answer)
    assert "REFUSED" in said(answer)


@pytest.mark.parametrize("pair", list(itertools.combinations(mix.MIXABLE, 2)))
def test_mixing_does_not_depend_on_the_order(pair: tuple[str, str]) -> None:
    one, other = pair
    assert mix.refused(mix.mix(one, other)) == mix.refused(mix.mix(other, one))


BAD: list[tuple[str, Callable[[], object]]] = [
    ("negative chlorine", lambda: known(free_chlorine=-1.0)),
    ("absurd volume", lambda: known(volume=50_000.0)),
    ("no volume", lambda: known(volume=0.0)),
    ("not a number", lambda: known(ph=float("nan"))),
    ("endless", lambda: known(alkalinity=float("inf"))),
    ("pH of another planet", lambda: known(ph=14.5)),
    ("method that can't", lambda: told(Field.STABILISER, 40.0, "meter")),
    ("no strength, hypochlorite", lambda: take("hypochlorite")),
    ("bare percentage", lambda: take("hypochlorite", Strength(percent=12.5))),
    ("two strengths", lambda: take("hypochlorite", Strength(trade_percent=12.5, available_g_l=125.0))),
    ("fraction, hypochlorite", lambda: take("hypochlorite", Strength(trade_percent=0.125))),
    ("weight percent without density", lambda: take("hypochlorite", Strength(naocl_percent=12.5))),
    ("no strength, acid", lambda: take("acid")),
    ("fraction, acid", lambda: take("acid", Strength(percent=0.31))),
    ("no strength, granules", lambda: take("calcium-hypochlorite")),
    ("fraction, granules", lambda: take("trichlor", Strength(available_percent=0.9))),
    ("more than pure", lambda: take("trichlor", Strength(available_percent=99.0))),
    ("another product's word", lambda: take("dichlor", Strength(trade_percent=12.5))),
    ("negative strength", lambda: take("acid", Strength(percent=-31.0))),
    ("unknown product", lambda: take("magic")),
    ("no output", lambda: take("chlorinator")),
    ("chlorine down with chlorine", lambda: adding.add(known(), TRADE, 1.0)),
    ("pH up with acid", lambda: adding.add(known(), ACID, 7.8)),
    ("pH with salt", lambda: adding.add(known(), take("salt"), 7.2, Goal.PH)),
    ("alkalinity with salt", lambda: adding.add(known(), take("salt"), 120.0, Goal.ALKALINITY)),
    ("absurd target", lambda: adding.add(known(), TRADE, 500.0)),
    ("target not a number", lambda: adding.add(known(), TRADE, float("nan"))),
    ("pH without alkalinity", lambda: adding.add(without(Field.ALKALINITY), ACID, 7.2)),
    ("no volume given", lambda: adding.add(without(Field.VOLUME), TRADE, 4.0)),
    ("negative amount", lambda: adding.effect(known(), TRADE, -5.0)),
    ("a tanker", lambda: adding.effect(known(), TRADE, 5e7)),
    ("coming down upwards", lambda: coming_down.come_down(known(), 5.0, days_at(JUNE, 45.0, 9.0))),
    ("a place that is none", lambda: days_at(JUNE, 95.0, 9.0)),
    ("fill water with more", lambda: coming_down.replace_water(known(stabiliser=100.0), Field.STABILISER, 30.0, 60.0)),
    ("free above total", lambda: meaning.chlorine_split(5.0, 3.0, "drops")),
    ("alkalinity up with acid", lambda: acidity.lower_alkalinity(known(), ACID, 120.0)),
    ("alkalinity down with salt", lambda: acidity.lower_alkalinity(known(), take("salt"), 60.0)),
    ("air downwards", lambda: acidity.aerate(known(), 7.2)),
    ("no calcium", lambda: balance.balance(known(hardness=0.0))),
    ("mix with the unknown", lambda: mix.mix("acid", "magic")),
    ("age below zero", lambda: next_test.next_test(known(), next_test.Past({Field.PH: -1.0}))),
]


@pytest.mark.parametrize(("what", "ask"), BAD, ids=[row[0] for row in BAD])
def test_bad_input_is_refused_with_what_is_accepted(what: str, ask: Callable[[], object]) -> None:
    with pytest.raises(Refused, match="accepted"):
        ask()


def test_unusual_values_and_targets_are_answered_with_a_warning() -> None:
    assert "advice.unusual" in adding.add(known(alkalinity=400.0, free_chlorine=2.0), TRADE, 4.0).codes()
    assert "advice.over_limit" in adding.add(known(free_chlorine=2.0, stabiliser=20.0), TRADE, 9.0).codes()


HANDLED = [(name, product) for name in NAMES if name != "chlorinator" for product in [name]]


@pytest.mark.parametrize("name", [row[0] for row in HANDLED])
def test_every_product_that_is_handled_comes_with_its_safety_notes(name: str) -> None:
    available = {"calcium-hypochlorite": 65.0, "dichlor": 55.0, "dichlor-dihydrate": 55.0, "trichlor": 90.0}.get(name)
    strength = Strength(available_percent=available, percent=31.0 if name == "acid" else None)
    if name == "hypochlorite":
        strength = Strength(trade_percent=12.5)
    codes = {note.code for note in adding.effect(known(), take(name, strength), 50.0).safety}
    assert {
        "safety.one",
        "safety.skimmer",
        "safety.to_water",
        "safety.eyes",
        "safety.air",
        "safety.label",
        "safety.nobody",
    } <= codes


def test_every_sentence_has_a_fact_for_each_of_its_places() -> None:
    days = days_at(JUNE, 45.0, 9.0)
    answers = [
        adding.add(known(ph=7.9), ACID, 7.4),
        coming_down.come_down(known(free_chlorine=20.0), 5.0, days),
        stabiliser.stabiliser(known(stabiliser=300.0)),
        acidity.lower_alkalinity(known(alkalinity=150.0), ACID, 90.0),
        balance.balance(known()),
        mix.mix("acid", "hypochlorite"),
        swim.swim(known(free_chlorine=20.0, ph=8.3), CLEAR, days),
        next_test.next_test(known(), next_test.Past({})),
        salt.salt(known(salt=2.0)),
    ]
    for answer in answers:
        for item in answer.says:
            item.kind.words.format(**dict(item.facts))  # raises for a place without a fact
