"""Fresh product in the container: what was learnt of the old one is mostly forgotten, the water is not."""

from dataclasses import replace
from datetime import timedelta
from math import exp

import pytest

from dosectl.core.estimate.begin import start
from dosectl.core.estimate.breaks import with_break
from dosectl.core.estimate.filter import update
from dosectl.core.estimate.filters import rows_of, var_of
from dosectl.core.estimate.late_tests import run_again
from dosectl.core.estimate.params import EstimateParams
from dosectl.core.estimate.renewed import STAYS
from dosectl.core.estimate.state import CHLORINE, EFFECT, Break, Estimate, EstimateInputs
from dosectl.core.estimate.view import water
from dosectl.rehearsal.loop import demo_loaded
from tests.builders import an_instant

SITE = demo_loaded(hypochlorite=True).site
PARAMS = EstimateParams()


def stale() -> Estimate:
    """A pool that has learnt, and is sure, that half of the label arrives."""
    new = start(SITE, PARAMS, (), 0.0)
    mean = list(new.mean)
    mean[EFFECT] = -0.69
    return replace(new, mean=tuple(mean))


def inputs(clock_s: float, *, is_renewed: bool) -> EstimateInputs:
    return EstimateInputs(
        clock_s=clock_s, utc=an_instant().utc + timedelta(seconds=clock_s), dt_s=60.0, orp_mv=None, ph=None, ph_sigma=0.05,
        temp_c=None, flow_proven_for_s=0.0, fed=(), renewed=is_renewed,
    )  # fmt: skip


def test_what_arrives_is_half_forgotten_and_its_doubt_grows() -> None:
    before = stale()
    after = with_break(before, PARAMS, Break(renewed=True))
    assert after.mean[EFFECT] == pytest.approx(STAYS * before.mean[EFFECT])
    assert var_of(after.cov, EFFECT) > 0.15**2
    assert after.mean[CHLORINE] == before.mean[CHLORINE]
    assert var_of(after.cov, CHLORINE) == var_of(before.cov, CHLORINE)
    rows = rows_of(after.cov)
    assert all(rows[i][j] == rows[j][i] for i in range(8) for j in range(8))


def test_an_update_is_told_and_says_it_to_control() -> None:
    est = update(SITE, PARAMS, stale(), inputs(60.0, is_renewed=False))
    assert water(SITE, est).arrives == pytest.approx(0.5, abs=0.01)
    est = update(SITE, PARAMS, est, inputs(120.0, is_renewed=True))
    assert water(SITE, est).arrives == pytest.approx(exp(STAYS * -0.69), abs=0.01)
    assert water(SITE, est).arrives_log_sigma > 0.15


def test_hours_that_are_run_again_know_when_it_was() -> None:
    """Laid on the hours before as well, the old product was learnt once more from them: 0.77 believed of a whole one."""
    est = stale()
    for minute in range(1, 200):
        est = update(SITE, PARAMS, est, inputs(60.0 * minute, is_renewed=minute == 190))
    assert est.history[0].mean[EFFECT] == pytest.approx(-0.69, abs=0.02)
    again = run_again(est, PARAMS, 1.0, est.tests, 0.0)
    assert again.mean[EFFECT] == pytest.approx(est.mean[EFFECT], abs=0.02)
    assert var_of(again.cov, EFFECT) == pytest.approx(var_of(est.cov, EFFECT), rel=0.1)
