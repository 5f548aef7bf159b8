"""What settings mean: figures against hand calculation and against the tables of the safety analysis."""

import pytest

from dosectl.chemistry.carbonate import acid_demand_meq_l
from dosectl.settings.describe import implications
from tests.settings.example_data import example, loaded

SALT, HYPO = "salt_and_acid", "hypochlorite_and_acid"


def lines(name: str = "minimal", **changes: object) -> str:
    made = loaded(example(name, **changes))
    return "\n".join(implications(made.site, made.params["control"]))


def test_a_cell_is_told_in_mg_l_an_hour_and_in_hours_a_day() -> None:
    said = lines()
    assert "cell: full output 0.30 mg/L an hour (bound 1.5)" in said  # 15 g/h in 50 m3
    assert "cell: runs 10.0 h for 3 mg/L" in said


def test_a_cell_that_is_too_small_is_told() -> None:
    assert "can't replace that in a day" in lines(feeders__cell__output_g_h=5)
    assert "can't replace that in a day" not in lines()


def test_a_capped_pump_is_told_by_its_cap() -> None:
    said = lines(HYPO)
    assert "full output 4.69 mg/L an hour, held to 1.30 by its cap" in said
    assert "spread over at least 2.3 h" in said
    assert "2500 g, 62 mg/L" in said  # 20 L of 125 g/L in 40 m3


def ph_after_an_hour(alkalinity_mg_l: float) -> float:
    said = lines(SALT, pool__alkalinity_mg_l=alkalinity_mg_l)
    return float(said.split("an hour at that bound takes pH 7.5 to ")[1][:4])


def test_an_hour_of_acid_is_told_as_a_fall_of_ph() -> None:
    # the other way round: the acid that this fall asks for is what the pump gives in an hour, within the rounding of the pH
    asked_mg_l = 50.04 * acid_demand_meq_l(80, 50, 7.5, ph_after_an_hour(80), salt_g_l=3.2)
    assert asked_mg_l == pytest.approx(3.69, abs=0.15)
    falls = [ph_after_an_hour(alkalinity) for alkalinity in (40, 60, 80, 120, 200)]
    assert falls == sorted(falls)  # the more alkalinity, the less pH falls
    assert falls[0] < falls[-1]


@pytest.mark.parametrize("litres", [5.4, 5.5])
def test_connected_acid_is_held_against_thirty_percent_of_the_alkalinity(litres: float) -> None:
    advised = "connect at most 5.4 L, 30 % of the alkalinity" in lines(SALT, feeders__acid__container_l=litres)
    assert advised is (litres > 5.43)


def test_acid_beyond_all_alkalinity_is_told_and_not_computed_wrong() -> None:
    said = lines(SALT, feeders__acid__container_l=100)
    assert "553 % of the alkalinity: all of it at once would take pH 7.5 to below 4" in said


@pytest.mark.parametrize(
    ("salt_g_l", "stabiliser_mg_l", "told"),
    [
        (3.2, 60.0, "Target: 3.0 mg/L of free chlorine (5 % of the stabiliser, as salt water;"),
        (1.0, 60.0, "Target: 4.5 mg/L of free chlorine (7.5 % of the stabiliser, as less than 1.5 g/L of salt;"),
        (1.0, 0.0, "Target: 2.0 mg/L of free chlorine ("),  # the middle of 1 to 3 without stabiliser
    ],
)
def test_the_target_is_told_with_the_share_that_the_salt_gives_it(salt_g_l: float, stabiliser_mg_l: float, told: str) -> None:
    """5 % of the stabiliser in salt water, 7.5 % in other: common practice."""
    assert told in lines(HYPO, pool__salt_g_l=salt_g_l, pool__stabiliser_mg_l=stabiliser_mg_l)


@pytest.mark.parametrize(("stabiliser_mg_l", "alkalinity_mg_l", "told"), [(300.0, 80.0, 2), (150.0, 120.0, 1), (60.0, 80.0, 0)])
def test_a_stabiliser_that_no_pool_should_hold_is_warned_of(stabiliser_mg_l: float, alkalinity_mg_l: float, told: int) -> None:
    """Cyanurate makes up about a third of the stabiliser's figure in the alkalinity at pH 7.5: common practice."""
    made = loaded(example(SALT, pool__stabiliser_mg_l=stabiliser_mg_l, pool__alkalinity_mg_l=alkalinity_mg_l))
    assert sum("stabiliser" in warning for warning in made.warnings) == told
