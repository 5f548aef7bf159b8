"""How much of a product reaches a target, and all that moves with it."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dosectl.chemistry.answers import dosing
from dosectl.chemistry.answers.dosing import Goal
from dosectl.chemistry.answers.water import Water


def a_water(
    *, fc: float = 2.0, ph: float = 7.8, ta: float = 80.0, cya: float = 30.0, volume: float = 50.0, salt: float = 3.2
) -> Water:
    """A usual pool: a test shows only what matters."""
    return Water(volume, fc, ph, ta, cya, 250.0, salt)


def test_ten_millilitres_a_cubic_metre_of_ten_trade_percent_are_one_milligram() -> None:
    found = dosing.dose(a_water(), dosing.hypochlorite(100.0), Goal.FREE_CHLORINE, 3.0)
    assert found.amount == pytest.approx(500.0)
    assert found.mixed.free_chlorine_mg_l == pytest.approx(3.0)
    assert found.mixed.ph > 7.8
    assert found.settled.ph == pytest.approx(7.8, abs=1e-6)
    assert found.settled.ta_mg_l == pytest.approx(80.0)


def test_acid_for_the_worked_water() -> None:
    # PHREEQC: TA 80, CYA 30, 3.2 g/kg, 7.8 to 7.5: 5.97 mL of 31.45 % a m3, alkalinity then 77.0. 2 % as for acid
    # demand.
    found = dosing.dose(a_water(fc=0.0), dosing.acid(31.45, 1.160), Goal.PH, 7.5)
    assert found.amount / 50.0 == pytest.approx(5.97, rel=0.02)
    assert found.mixed.ta_mg_l == pytest.approx(77.0, abs=0.1)
    assert found.mixed.ph == pytest.approx(7.5, abs=1e-4)


def test_dry_acid_for_the_worked_water() -> None:
    found = dosing.dose(a_water(fc=0.0), dosing.granules("dry_acid"), Goal.PH, 7.5)
    assert found.amount / 50.0 == pytest.approx(7.17, rel=0.02)  # g/m3, same table


def test_soda_ash_for_the_worked_water() -> None:
    # PHREEQC: TA 60, no stabiliser, 7.2 to 7.5: 6.73 g/m3, alkalinity then 66.4.
    found = dosing.dose(a_water(fc=0.0, ph=7.2, ta=60.0, cya=0.0), dosing.granules("soda_ash"), Goal.PH, 7.5)
    assert found.amount / 50.0 == pytest.approx(6.73, rel=0.02)
    assert found.mixed.ta_mg_l == pytest.approx(66.4, abs=0.1)


def test_trichlor_brings_stabiliser_and_takes_alkalinity_for_good() -> None:
    found = dosing.dose(a_water(), dosing.granules("trichlor", available_percent=90.0), Goal.FREE_CHLORINE, 4.0)
    assert found.amount == pytest.approx(2.0 * 50.0 / 0.90, rel=1e-6)
    assert found.mixed.cya_mg_l == pytest.approx(30.0 + 2.0 * 0.6068, abs=1e-3)
    assert found.settled.ta_mg_l == pytest.approx(80.0 - 2.0 * 0.7058, abs=1e-3)
    assert found.settled.ph < found.mixed.ph < 7.8


def test_stabiliser_lowers_ph_at_unchanged_alkalinity() -> None:
    found = dosing.dose(a_water(), dosing.granules("cyanuric_acid"), Goal.CYANURIC_ACID, 50.0)
    assert found.amount == pytest.approx(1000.0)
    assert found.mixed.ta_mg_l == 80.0
    assert found.mixed.ph < 7.6


def test_a_large_change_is_split_into_equal_portions() -> None:
    found = dosing.dose(a_water(fc=1.0), dosing.hypochlorite(125.0), Goal.FREE_CHLORINE, 13.0)
    assert len(found.portions) == 3
    assert sum(found.portions) == pytest.approx(found.amount)
    # In three equal parts the first one would move the pH by 0.39: the water buffers least at the high end.
    assert len(dosing.dose(a_water(ph=8.2), dosing.acid(31.45), Goal.PH, 7.4).portions) == 4


def test_nothing_is_needed_at_the_target() -> None:
    found = dosing.dose(a_water(ph=7.4), dosing.acid(31.45), Goal.PH, 7.4)
    assert found.amount == 0.0
    assert found.mixed == a_water(ph=7.4)


def test_doubt_comes_from_the_test_and_the_volume() -> None:
    # 3 mg/L wanted in 50 m3 of 100 g/L: 1500 mL. 10 % of volume are 150 mL, 0.2 mg/L are 100 mL, together 180.
    water = a_water(fc=1.0)
    found = dosing.dose(water, dosing.hypochlorite(100.0), Goal.FREE_CHLORINE, 4.0, {"volume_m3": 5.0, "free_chlorine_mg_l": 0.2})
    assert found.sigma == pytest.approx(180.3, abs=0.5)
    assert dosing.dose(water, dosing.hypochlorite(100.0), Goal.FREE_CHLORINE, 4.0).sigma == 0.0


def test_a_ph_test_of_a_tenth_is_a_third_of_the_acid() -> None:
    found = dosing.dose(a_water(), dosing.acid(31.45), Goal.PH, 7.5, {"ph": 0.1})
    assert 0.2 < found.sigma / found.amount < 0.5


@pytest.mark.parametrize(
    ("key", "goal", "target"),
    [
        ("bicarbonate", Goal.ALKALINITY, 100.0),
        ("calcium_chloride_dihydrate", Goal.HARDNESS, 300.0),
        ("salt", Goal.SALT, 3.8),
        ("boric_acid", Goal.BORATE, 30.0),
        ("borax", Goal.BORATE, 10.0),
    ],
)
def test_every_quantity_reaches_its_target(key: str, goal: Goal, target: float) -> None:
    found = dosing.dose(a_water(ph=7.4), dosing.granules(key), goal, target)
    assert getattr(found.mixed, goal.value) == pytest.approx(target)


def test_what_a_product_can_not_do_is_refused() -> None:
    with pytest.raises(ValueError, match="free_chlorine_mg_l = 1 wanted"):
        dosing.dose(a_water(fc=3.0), dosing.hypochlorite(125.0), Goal.FREE_CHLORINE, 1.0)
    with pytest.raises(ValueError, match="accepted is what bicarbonate can reach"):
        dosing.dose(a_water(ph=7.4), dosing.granules("bicarbonate"), Goal.PH, 8.8)
    with pytest.raises(ValueError, match="accepted is what hydrochloric_acid can reach"):
        dosing.dose(a_water(ph=7.4), dosing.acid(31.45), Goal.PH, 7.6)


def test_an_amount_that_would_ruin_the_water_is_told_as_such() -> None:
    with pytest.raises(ValueError, match="it is too much for this water"):
        dosing.add(a_water(), dosing.acid(31.45), 20_000.0)


def test_a_product_without_its_strength_is_refused() -> None:
    with pytest.raises(ValueError, match="the percentage on the label"):
        dosing.granules("calcium_hypochlorite")
    with pytest.raises(ValueError, match="accepted is a solid"):
        dosing.granules("hydrochloric_acid")


def test_a_water_outside_the_model_is_refused_at_once() -> None:
    with pytest.raises(ValueError, match="test again"):
        a_water(ph=5.0)
    with pytest.raises(ValueError, match=r"3200 mg/L is 3\.2 g/L"):
        a_water(salt=3200.0)


def test_what_a_person_must_know_stands_with_the_answer() -> None:
    notes = " ".join(dosing.dose(a_water(), dosing.acid(31.45), Goal.PH, 7.5).danger_notes)
    assert "skimmer" in notes
    assert "chlorine gas" in notes
    assert "eyes" in notes


@given(st.floats(0.0, 8.0), st.floats(7.0, 8.2), st.floats(60.0, 160.0), st.floats(0.0, 60.0), st.floats(1.0, 400.0))
def test_two_additions_come_to_the_same_in_either_order(fc: float, ph: float, ta: float, cya: float, grams: float) -> None:
    # Closed water: bicarbonate then dry acid is dry acid then bicarbonate.
    water = a_water(fc=fc, ph=ph, ta=ta, cya=cya)
    soda, sour = dosing.granules("bicarbonate"), dosing.granules("dry_acid")
    one = dosing.add(dosing.add(water, soda, 3.0 * grams), sour, grams)
    other = dosing.add(dosing.add(water, sour, grams), soda, 3.0 * grams)
    assert one.ph == pytest.approx(other.ph, abs=1e-6)
    assert one.ta_mg_l == pytest.approx(other.ta_mg_l)


@given(st.floats(7.2, 8.2), st.floats(60.0, 160.0), st.floats(0.0, 60.0), st.floats(0.05, 0.8))
def test_more_is_needed_for_a_longer_way(ph: float, ta: float, cya: float, way: float) -> None:
    water = a_water(ph=ph, ta=ta, cya=cya)
    near = dosing.dose(water, dosing.acid(31.45), Goal.PH, ph - way)
    far = dosing.dose(water, dosing.acid(31.45), Goal.PH, ph - way - 0.1)
    assert far.amount > near.amount > 0.0


@given(st.floats(7.0, 8.2), st.floats(0.05, 0.6), st.floats(50.0, 180.0), st.floats(0.0, 100.0), st.floats(0.0, 12.0))
def test_the_amount_in_closed_form_is_that_found_by_adding(ph: float, step: float, ta: float, cya: float, fc: float) -> None:
    water = a_water(fc=fc, ph=ph, ta=ta, cya=min(cya, 2.0 * ta))
    for supply, target in (
        (dosing.acid(31.45), max(6.9, ph - step)),
        (dosing.granules("soda_ash"), ph + step),
        (dosing.granules("caustic_soda"), ph + step),
    ):
        if target == ph:
            continue
        found = dosing.dose(water, supply, Goal.PH, target)
        half = dosing.add(water, supply, 0.5 * found.amount).ph
        assert min(ph, target) < half < max(ph, target)
        assert dosing.add(water, supply, found.amount).ph == pytest.approx(target, abs=1e-6)
