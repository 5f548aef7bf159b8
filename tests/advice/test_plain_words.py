"""What an answer must not leave unsaid: what a test can't show, what a label can't say, what nobody knows."""

import pytest

from dosectl.core.advice import acidity, adding, meaning, mix, stabiliser, swim
from dosectl.core.advice.known import Field, Refused
from dosectl.core.advice.known import given as told
from dosectl.core.advice.shelf import Strength, take
from tests.advice.test_answers import CLEAR, TRADE, known, said


@pytest.mark.parametrize(
    ("field", "value", "method"),
    [(Field.FREE_CHLORINE, 12.0, "colour"), (Field.STABILISER, 130.0, "turbidity"), (Field.FREE_CHLORINE, 15.0, "strips")],
)
def test_a_result_beyond_the_methods_reach_has_no_upper_end(field: Field, value: float, method: str) -> None:
    words = said(meaning.meaning(field, value, method))
    assert "or more" in words
    assert " to " not in words.split("|")[0]


@pytest.mark.parametrize("method", ["colour", "photometer", "strips"])
def test_no_colour_may_be_very_much_chlorine(method: str) -> None:
    assert "advice.test_bleached" in meaning.meaning(Field.FREE_CHLORINE, 0.0, method).codes()
    assert "advice.test_bleached" not in meaning.meaning(Field.FREE_CHLORINE, 0.0, "drops").codes()


def test_a_combined_chlorine_that_may_be_too_much_is_not_told_as_none() -> None:
    # 2.0 and 2.6 by drops: 0.6 +- 0.35, so 1.29 at most with 95 %, by hand.
    words = said(meaning.chlorine_split(2.0, 2.6, "drops"))
    assert "1.29" in words.split("|")[1]
    assert "nobody swims" in words


@pytest.mark.parametrize(
    ("name", "strength"),
    [
        ("hypochlorite", Strength(trade_percent=1.25)),
        ("hypochlorite", Strength(trade_percent=25.0)),
        ("acid", Strength(percent=1.5)),
        ("bicarbonate", Strength(percent=2.0)),
        ("trichlor", Strength(available_percent=9.0)),
        ("dichlor", Strength(available_percent=5.6)),
    ],
)
def test_a_strength_that_nobody_sells_is_warned_of(name: str, strength: Strength) -> None:
    assert "advice.odd_strength" in adding.effect(known(), take(name, strength), 500.0).codes()


@pytest.mark.parametrize(
    ("name", "strength"),
    [
        ("hypochlorite", Strength(trade_percent=12.5)),
        ("acid", Strength(percent=14.5)),
        ("trichlor", Strength(available_percent=90.0)),
    ],
)
def test_usual_strengths_are_not_warned_of(name: str, strength: Strength) -> None:
    assert "advice.odd_strength" not in adding.effect(known(), take(name, strength), 500.0).codes()


def test_what_is_said_of_a_product_is_used_or_refused() -> None:
    with pytest.raises(Refused, match="age in days"):
        take("hypochlorite", Strength(trade_percent=12.5, storage_c=35.0))
    with pytest.raises(Refused, match="by volume"):
        take("hypochlorite", Strength(trade_percent=12.5, density_kg_l=1.2))
    with pytest.raises(Refused, match="section 9"):
        take("hypochlorite", Strength(naocl_percent=12.5))


def test_what_dissolves_slowly_is_portioned_slowly() -> None:
    words = said(adding.add(known(), take("stabiliser"), 80.0))
    assert "a week apart" in words
    assert "turnover of the pump apart" not in words


@pytest.mark.parametrize("temp_c", [10.0, 33.0])
def test_hypochlorous_acid_away_from_25_degrees_is_told_as_unknown(temp_c: float) -> None:
    assert "advice.ring_temperature" in adding.add(known(temperature=temp_c), TRADE, 5.0).codes()
    assert "advice.ring_temperature" in stabiliser.stabiliser(known(temperature=temp_c)).codes()
    assert "advice.ring_temperature" not in adding.add(known(temperature=temp_c, stabiliser=0.0), TRADE, 5.0).codes()
    assert "advice.ring_temperature" not in adding.add(known(), TRADE, 5.0).codes()


def test_two_chlorines_do_not_undo_each_other_in_the_pool() -> None:
    assert "advice.mix_pool_both" in mix.mix("dichlor", "calcium-hypochlorite").codes()
    assert "advice.mix_pool" in mix.mix("acid", "hypochlorite").codes()


def test_calcium_and_carbonate_are_told_to_cloud() -> None:
    assert "advice.mix_clouds" in mix.mix("calcium-chloride", "soda-ash").codes()
    assert "advice.mix_clouds" not in mix.mix("salt", "soda-ash").codes()


def test_the_chlorine_that_much_stabiliser_asks_for_has_its_doubt() -> None:
    words = said(stabiliser.stabiliser(known(stabiliser=160.0)))
    assert "with the test's doubt) would just keep" in words
    assert "workable" not in said(stabiliser.stabiliser(known(stabiliser=0.0)))


def test_dry_acid_leaves_sulfate_and_borax_has_a_better_brother() -> None:
    assert "advice.sulfate" in adding.add(known(ph=7.8), take("dry-acid"), 7.5).codes()
    assert "boric acid" in said(adding.add(known(borate=0.0), take("borax"), 20.0))


def test_one_reason_is_one_reason() -> None:
    assert "Against it: one reason." in said(swim.swim(known(free_chlorine=1.0), CLEAR))


def test_the_working_of_aeration_tells_what_has_to_leave() -> None:
    steps = {w.what: w.value for w in acidity.aerate(known(ph=7.2), 7.5).working}
    assert steps["carbon dioxide to lose"] > 0.0


def test_a_volume_that_nobody_knows_is_no_volume() -> None:
    with pytest.raises(Refused, match="at most half"):
        told(Field.VOLUME, 5.0, None, 50.0)
