"""The target against the trade's rules of thumb."""

from dataclasses import replace

import pytest

from dosectl.chemistry.chlorine import hocl_mg_l
from dosectl.core.control import ControlParams
from dosectl.core.control.target import Target, target
from dosectl.core.estimate import EstimateParams, WaterView, start, water
from tests.control.closed_loop import evidence
from tests.estimate.toy_pool import ToyPool, site


def view_with(cya: float, sigma: float = 0.0) -> WaterView:
    plant = site()
    return replace(water(plant, start(plant, EstimateParams(), (), 0.0)), cya_mg_l=cya, cya_sigma=sigma)


def target_for(cya: float, *, salt_water: bool = True, sigma: float = 0.0) -> Target:
    plant = site(salt_water=salt_water)
    return target(plant, ControlParams(), view_with(cya, sigma), evidence(plant, ToyPool(0)))


# Shares of 5 % (salt pools) and 7.5 % of the stabiliser, 1-3 mg/L without it, at least 2 with it, at most 7, and the band's
# edges 75 % and 150 % with an upper limit of min(10, max(5, 0.4 CYA)): rules of thumb, common practice.
@pytest.mark.parametrize(
    ("cya", "salt", "other", "code"),
    [
        (0.0, 2.0, 2.0, "control.target_floor"),
        (30.0, 2.0, 2.25, "control.target_floor"),
        (50.0, 2.5, 3.75, "control.target_share"),
        (80.0, 4.0, 6.0, "control.target_share"),
        (140.0, 7.0, 7.0, "control.target_share"),
        (200.0, 7.0, 7.0, "control.replace_water"),
    ],
)
def test_the_target_follows_the_rules_of_thumb(cya: float, salt: float, other: float, code: str) -> None:
    found = target_for(cya)
    assert found.mg_l == pytest.approx(salt)
    assert str(found.why.code) == code
    assert found.low_mg_l == pytest.approx(0.75 * salt)
    assert found.high_mg_l <= min(10.0, 1.5 * salt) + 1e-9
    assert target_for(cya, salt_water=False).mg_l == pytest.approx(other)


@pytest.mark.parametrize("cya", [50.0, 80.0, 140.0])
def test_in_stabilised_water_it_keeps_the_hypochlorous_acid_of_the_rule(cya: float) -> None:
    assert hocl_mg_l(target_for(cya).mg_l, cya, 7.5) == pytest.approx(0.02, rel=0.1)


def test_doubt_about_the_stabiliser_raises_it_a_little_and_never_much() -> None:
    sure, unsure, lost = (target_for(60.0, sigma=s).mg_l for s in (0.0, 10.0, 60.0))
    assert sure < unsure < lost <= 1.1 * sure + 1e-9


def test_it_rises_with_the_stabiliser_and_never_passes_seven() -> None:
    found = [target_for(float(cya)).mg_l for cya in range(0, 400, 10)]
    assert found == sorted(found)
    assert max(found) == 7.0


def test_nothing_is_fed_above_what_stays_inside_the_band() -> None:
    for cya in (0.0, 30.0, 50.0, 140.0, 200.0):
        found = target_for(cya)
        assert found.mg_l < found.fade_mg_l < found.high_mg_l
        assert found.high_mg_l <= found.limit_mg_l
