"""Tests by hand carry their method's error, and no more."""

import statistics
from dataclasses import replace

import pytest

from dosectl.model.water_tests import Quantity
from dosectl.pool_model.hand_tests import METHODS
from tests.pool_model.pools import QUIET, a_plant


def many(quantity: Quantity, method: str, seeds: int = 60, **water: float) -> list[float]:
    """One test each by many testers."""
    return [a_plant(water=replace(QUIET, **water), seed=seed).manual_test(quantity, method) for seed in range(seeds)]


@pytest.mark.parametrize(("quantity", "method"), sorted(METHODS))
def test_every_method_gives_about_the_truth(quantity: Quantity, method: str) -> None:
    plant = a_plant(water=replace(QUIET, free_chlorine_mg_l=3.0))
    truth = {
        Quantity.FREE_CHLORINE: 3.0,
        Quantity.COMBINED_CHLORINE: 0.1,
        Quantity.PH: 7.6,
        Quantity.ALKALINITY: 80.0,
        Quantity.STABILISER: 50.0,
        Quantity.SALT: 3.2,
        Quantity.WATER_TEMP: 27.0,
    }[quantity]
    error = METHODS[quantity, method]
    spread = (error.absolute**2 + (error.relative * truth) ** 2 + error.bias**2 + error.step**2 / 12.0) ** 0.5
    seen = many(quantity, method, free_chlorine_mg_l=3.0)
    assert statistics.mean(seen) == pytest.approx(truth, abs=max(0.6 * spread, 0.1))
    assert plant.manual_test(quantity, method) >= 0.0


def test_strips_scatter_more_than_drops() -> None:
    drops, strips = (many(Quantity.FREE_CHLORINE, method, free_chlorine_mg_l=3.0) for method in ("drops", "strips"))
    assert statistics.stdev(strips) > 2.0 * statistics.stdev(drops)


def test_one_testers_bias_stays() -> None:
    plant = a_plant(seed=5)
    seen = [plant.manual_test("stabiliser", "turbidity") for _ in range(80)]
    others = many(Quantity.STABILISER, "turbidity", 80)
    assert statistics.stdev(seen) < statistics.stdev(others)


def test_the_colour_bleaches_at_high_chlorine_and_then_reads_low() -> None:
    # DPD colour fades above about 10 mg/L (common practice): dangerous, as it asks for more.
    seen = many(Quantity.FREE_CHLORINE, "photometer", 20, free_chlorine_mg_l=18.0)
    assert max(seen) < 8.0


def test_results_lie_on_the_steps_of_the_scale() -> None:
    for value in many(Quantity.ALKALINITY, "drops", 20):
        assert value % 10.0 == 0.0


def test_what_cannot_be_measured_is_refused() -> None:
    with pytest.raises(KeyError, match="free_chlorine by drops"):
        a_plant().manual_test("stabiliser", "drops")
    with pytest.raises(KeyError, match="free_chlorine by drops"):
        a_plant().manual_test("happiness", "meter")
