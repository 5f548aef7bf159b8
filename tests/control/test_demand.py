"""The aim within a day: it climbs through a window of flow, and stays away from the limit above which nobody should swim."""

from math import exp

import pytest

from dosectl.core.control.demand import Plan, plan, with_light
from dosectl.core.control.state import ControlState
from dosectl.core.control.target import Target, target
from tests.control.closed_loop import evidence
from tests.control.wished import PARAMS, Run, view_of
from tests.estimate.toy_pool import cell


def _planned(hour: float, **water_facts: float) -> tuple[Plan, Target]:
    run = Run(cell())
    run.pool.now_s = hour * 3600.0
    seen = evidence(run.plant, run.pool, flow_since_s=0.0, orp=700.0, ph=7.5, ledger=run.ledger, standing=run.standing)
    water = view_of(run.plant, **water_facts)
    goal = target(run.plant, PARAMS, water, seen)
    return plan(with_light(run.plant, ControlState(), seen), water, goal, seen), goal


@pytest.mark.parametrize("hour", [6.0, 12.0, 18.0])
@pytest.mark.parametrize("stabiliser_mg_l", [120.0, 140.0, 160.0])
@pytest.mark.parametrize("sigma_mg_l", [0.3, 1.0, 3.0])
def test_with_much_stabiliser_the_aim_stays_more_than_two_sigmas_of_the_estimate_below_the_limit(
    hour: float, stabiliser_mg_l: float, sigma_mg_l: float
) -> None:
    """A pool of target 7 whose chlorine was read a quarter too low stood above 10 mg/L for half a day."""
    planned, goal = _planned(hour, cya_mg_l=stabiliser_mg_l, free_chlorine_mg_l=7.0, sigma_mg_l=sigma_mg_l, high95_mg_l=14.0)
    assert planned.aim_mg_l <= max(goal.mg_l, goal.limit_mg_l * exp(-2.0 * sigma_mg_l / 7.0))
    assert goal.mg_l <= planned.aim_mg_l <= 0.75 * goal.limit_mg_l


def test_elsewhere_doubt_raises_it() -> None:
    sure, goal = _planned(12.0, cya_mg_l=50.0, free_chlorine_mg_l=2.5)
    unsure, _ = _planned(12.0, cya_mg_l=50.0, free_chlorine_mg_l=2.5, sigma_mg_l=1.2, high95_mg_l=5.0)
    assert goal.mg_l < sure.aim_mg_l < unsure.aim_mg_l
