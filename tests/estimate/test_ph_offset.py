"""The pH probe's offset is learnt from tests by hand alone: acid that outgassing makes up for is no sign of a wrong probe."""

import pytest

from dosectl.core.estimate import ph as acidity
from dosectl.model.water_tests import Quantity
from tests.builders import a_site, a_test


def weeks_of_acid(days: int, tests_at: float | None, true_offset: float) -> acidity.Ph:
    """Minutes of a pool whose pH rises by 0.1 a day and is held by acid at 7.6; the probe reads `true_offset` too high."""
    site = a_site()
    ph: acidity.Ph = (7.6, 0.0, 0.02, 0.0, 0.01)
    true = 7.6
    for minute in range(days * 1440):
        true += 0.1 / 1440.0
        ph = acidity.drift(ph, 1.0 / 1440.0)
        if minute % 480 == 479:
            acid_mg_l = 0.35
            ph = acidity.after_acid(site, ph, acid_mg_l, 80.0, 50.0, 26.0)
            true = 7.6
        ph = acidity.use_probe(ph, true + true_offset, 0.05, 60.0)
        if tests_at is not None and minute % (7 * 1440) == 720:
            ph, _ = acidity.use_test(ph, tests_at, 0.1, 0.0)
    return ph


def test_without_tests_the_offset_stays_what_it_was() -> None:
    assert abs(weeks_of_acid(28, None, 0.0)[1]) < 0.02


def test_with_a_true_probe_and_true_tests_the_ph_is_not_drawn_down() -> None:
    ph = weeks_of_acid(56, 7.63, 0.0)
    assert abs(ph[1]) < 0.05
    assert 7.55 <= ph[0] <= 7.7


def test_tests_teach_the_offset_of_a_wrong_probe() -> None:
    ph = weeks_of_acid(56, 7.63, 0.2)
    assert 0.1 <= ph[1] <= 0.25


def test_an_alkalinity_test_that_both_doubts_do_not_explain_makes_the_model_give_way() -> None:
    """A bag of bicarbonate that nobody entered: 45 mg/L were believed well, 70 are found, and found again a week later."""
    test = a_test(Quantity.ALKALINITY, 70.0, sigma=7.0)
    value, var, believed = acidity.use_alkalinity(45.0, 20.0, test.value, test.sigma, 0.0)
    assert believed
    assert value == pytest.approx(68.0, abs=2.0)
    assert var == pytest.approx(49.0, rel=0.2)
    value, _, believed = acidity.use_alkalinity(68.0, 20.0, test.value, test.sigma, 0.0)
    assert believed
    assert 68.0 < value < 69.0
    slip, _, believed = acidity.use_alkalinity(70.0, 20.0, 700.0, 7.0, 0.0)
    assert not believed
    assert slip < 120.0
