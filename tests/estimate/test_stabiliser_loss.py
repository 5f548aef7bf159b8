"""A pool loses stabiliser at a rate of its own, which the tests of months show. Truth: first order, written down here."""

from dataclasses import replace
from datetime import timedelta
from math import exp

import pytest

from dosectl.core.estimate.begin import start
from dosectl.core.estimate.filter import update
from dosectl.core.estimate.params import EstimateParams
from dosectl.core.estimate.state import THINNING, Estimate, EstimateInputs
from dosectl.core.estimate.view import water
from dosectl.model.requests import RequestId
from dosectl.model.water_tests import Quantity, WaterTest
from dosectl.rehearsal.loop import demo_loaded
from tests.builders import a_test, an_instant
from tests.estimate.test_estimate import pool_after_a_test

SITE = demo_loaded().site
SITE = replace(SITE, pool=replace(SITE.pool, stabiliser_mg_l=60.0))
PARAMS = EstimateParams()
DAY_S = 86400.0


def turbidity(value: float, clock_s: float) -> WaterTest:
    return a_test(Quantity.STABILISER, value, clock_s, request=RequestId(f"{clock_s}"), sigma=8.0, method="turbidity")


def watched(days: int, tests: dict[int, float]) -> Estimate:
    """The estimate after that many days without a probe, with these turbidity tests of the stabiliser [mg/L] on their days."""
    est = start(SITE, PARAMS, (), 0.0)
    for quarter in range(days * 96):
        clock_s = (quarter + 1) * 900.0
        day, rest = divmod(quarter, 96)
        noted = (turbidity(tests[day], clock_s),) if rest == 40 and day in tests else ()
        est = update(
            SITE,
            PARAMS,
            est,
            EstimateInputs(
                clock_s=clock_s, utc=an_instant().utc + timedelta(seconds=clock_s), dt_s=900.0, orp_mv=None, ph=None,
                ph_sigma=0.05, temp_c=None, flow_proven_for_s=clock_s, fed=(), new_tests=noted,
            ),
        )  # fmt: skip
    return est


def falling(share_day: float, days: int) -> float:
    return 60.0 * exp(-share_day * days)


@pytest.mark.parametrize("share_day", [0.001, 0.005, 0.02, 0.03])
def test_the_stabiliser_is_known_between_tests_however_fast_this_pool_loses_it(share_day: float) -> None:
    est = watched(118, {day: falling(share_day, day) for day in (4, 34, 64, 94)})
    view = water(SITE, est)
    assert view.cya_mg_l == pytest.approx(falling(share_day, 118), abs=8.0)
    assert abs(view.cya_mg_l - falling(share_day, 118)) < 2.0 * view.cya_sigma


def test_a_pool_that_loses_much_is_foretold_to_lose_more_than_one_that_loses_little() -> None:
    much = watched(100, {day: falling(0.02, day) for day in (4, 34, 64, 94)})
    little = watched(100, {day: falling(0.001, day) for day in (4, 34, 64, 94)})
    assert much.mean[THINNING] > 2.0 * little.mean[THINNING]


def test_stabiliser_that_somebody_adds_unreported_makes_no_pool_that_gains_it() -> None:
    est = watched(100, {4: 60.0, 34: 30.0, 64: 80.0, 94: 78.0})
    assert est.mean[THINNING] >= 0.0
    assert water(SITE, est).cya_mg_l == pytest.approx(77.0, abs=10.0)


def test_an_electrode_that_wanders_teaches_no_stabiliser() -> None:
    """Offset and stabiliser move a reading alike, and what wanders is the electrode: tests alone say the stabiliser."""
    believed = []
    for drift_mv_day in (0.0, 2.0, -2.0):
        pool = pool_after_a_test()
        for _ in range(10):
            pool.orp_shift_mv += drift_mv_day
            pool.run(24.0)
        believed.append(pool.view.cya_mg_l)
    assert believed[1] == pytest.approx(believed[0], abs=0.5)
    assert believed[2] == pytest.approx(believed[0], abs=0.5)
