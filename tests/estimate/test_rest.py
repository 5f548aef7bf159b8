"""After a winter the water is as believed, and nothing is sure of the pool's habits or its electrode."""

from dataclasses import replace
from math import exp, sqrt

import pytest

from dosectl.core.estimate.begin import start
from dosectl.core.estimate.filters import var_of
from dosectl.core.estimate.params import EstimateParams
from dosectl.core.estimate.rest import rested
from dosectl.core.estimate.state import CHLORINE, DEMAND, EFFECT, OFFSET, STABILISER
from dosectl.core.estimate.view import water
from dosectl.rehearsal.loop import demo_loaded

SITE = demo_loaded().site
PARAMS = EstimateParams()


def test_the_water_stays_and_habits_are_forgotten() -> None:
    new = start(SITE, PARAMS, (), 0.0)
    mean = list(new.mean)
    mean[CHLORINE], mean[DEMAND], mean[OFFSET], mean[EFFECT], mean[STABILISER] = 1.0, -1.2, 655.0, -0.4, 3.2
    autumn = replace(new, mean=tuple(mean), ph=(7.3, 0.1, 0.02, 0.0, 0.02), alkalinity_mg_l=93.0, tested_s=-60.0, misfit_s=99.0)
    spring = rested(SITE, PARAMS, autumn)
    before, after = water(SITE, autumn), water(SITE, spring)
    assert (after.free_chlorine_mg_l, after.cya_mg_l, after.ph, after.alkalinity_mg_l) == pytest.approx(
        (before.free_chlorine_mg_l, before.cya_mg_l, before.ph, before.alkalinity_mg_l)
    )
    assert after.sigma_mg_l == pytest.approx(before.sigma_mg_l)
    for state in (DEMAND, OFFSET, EFFECT):
        assert spring.mean[state] == new.mean[state]
        assert var_of(spring.cov, state) == var_of(new.cov, state)
    assert exp(sqrt(var_of(spring.cov, DEMAND))) > 1.3
    assert (spring.tested_s, spring.updated_s, spring.history, spring.misfit_s) == (-60.0, 0.0, (), 0.0)
