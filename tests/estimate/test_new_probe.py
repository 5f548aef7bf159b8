"""A probe that was replaced: the estimate holds to the water, and forgets what it had learnt of the old probe."""

from dataclasses import replace

import pytest

from dosectl.core.estimate import ph as acidity
from dosectl.core.estimate.begin import start
from dosectl.core.estimate.filter import update
from dosectl.core.estimate.filters import var_of
from dosectl.core.estimate.new_probe import with_new_probes
from dosectl.core.estimate.state import OFFSET, EstimateInputs
from dosectl.core.evidence import Standing
from dosectl.core.probes.renewed import new_probes
from dosectl.model.signals import SignalId, SignalKind
from dosectl.model.water_tests import Quantity
from tests.builders import a_site, a_test
from tests.estimate.test_estimate import PARAMS, Watched, pool_after_a_test
from tests.estimate.toy_pool import site

NEW_ORP, NEW_PH = frozenset({SignalKind.ORP}), frozenset({SignalKind.PH})


def days_inside(told: bool, shift_mv: float) -> float:
    """Share of three days' minutes in which the stated 95 % band holds the truth, after an electrode that reads otherwise."""
    watched = pool_after_a_test(3, hours=7 * 24.0 + 12.0)
    watched.orp_shift_mv = shift_mv
    if told:
        watched.estimate = with_new_probes(watched.estimate, PARAMS, NEW_ORP, frozenset())
    inside = 0
    for _ in range(3 * 1440):
        watched.step()
        inside += watched.view.low95_mg_l <= watched.pool.free_mg_l <= watched.view.high95_mg_l
    return inside / (3 * 1440)


@pytest.mark.parametrize("shift_mv", [-25.0, 25.0])
def test_after_a_new_electrode_that_was_entered_the_stated_band_holds_the_truth(shift_mv: float) -> None:
    assert days_inside(True, shift_mv) > 0.8


def test_of_a_lower_one_that_nobody_entered_it_does_not() -> None:
    """What the one above is worth: a rise is taken for the electrode's anyway, a fall for the water's."""
    assert days_inside(False, -25.0) < 0.6


def test_a_check_in_its_standard_widens_the_doubt_of_the_electrode_and_changes_nothing_else() -> None:
    before = pool_after_a_test().estimate
    after = with_new_probes(before, PARAMS, frozenset(), NEW_ORP)
    assert after.mean == before.mean
    assert var_of(after.cov, OFFSET) == pytest.approx(var_of(before.cov, OFFSET) + 15.0**2)


def test_hours_of_the_old_electrode_are_not_run_again_with_a_late_test() -> None:
    watched: Watched = pool_after_a_test(3, hours=60.0)
    late = replace(
        a_test(Quantity.FREE_CHLORINE, watched.pool.free_mg_l, watched.pool.now_s - 7200.0), entered_s=watched.pool.now_s + 60.0
    )
    old = var_of(watched.estimate.cov, OFFSET)
    watched.estimate = with_new_probes(watched.estimate, PARAMS, NEW_ORP, frozenset())
    watched.step(late)
    assert var_of(watched.estimate.cov, OFFSET) > 5.0 * old


@pytest.mark.parametrize("old_offset", [-0.325, 0.325])
@pytest.mark.parametrize("how", ["replaced", "checked"])
def test_a_new_or_checked_ph_probe_that_reads_right_is_believed_within_hours(old_offset: float, how: str) -> None:
    """The old offset was held for ever: 7.62 was believed at 7.28, and acid was fed on it."""
    est = replace(start(a_site(), PARAMS, (), 0.0), ph=(7.5 - old_offset, old_offset, 0.005, 0.0, 0.002))
    replaced, checked = (NEW_PH, frozenset()) if how == "replaced" else (frozenset(), NEW_PH)
    ph: acidity.Ph = with_new_probes(est, PARAMS, replaced, checked).ph
    for _ in range(6 * 60):
        ph = acidity.use_probe(acidity.drift(ph, 1.0 / 1440.0), 7.5, 0.05, 60.0)
    assert ph[0] == pytest.approx(7.5, abs=0.06)
    assert ph[2] ** 0.5 >= 0.05


def test_which_probe_is_new_is_told_to_the_update_by_the_names_of_the_settings() -> None:
    plant, nothing = site(), Standing()
    entered = Standing(replaced=(("orp", 5.0, 0.0), ("cell", 6.0, 100.0)), calibrated=((SignalId("ph"), 7.0),))
    assert new_probes(plant, nothing, entered) == (NEW_ORP, NEW_PH)
    assert new_probes(plant, entered, entered) == (frozenset(), frozenset())
    again = replace(entered, replaced=(("orp", 9.0, 0.0), ("cell", 6.0, 100.0)))
    assert new_probes(plant, entered, again) == (NEW_ORP, frozenset())


def test_an_update_that_is_told_starts_the_electrode_over() -> None:
    watched = pool_after_a_test()
    pool = watched.pool
    inputs = EstimateInputs(pool.now_s + 60.0, pool.utc, 60.0, None, None, 0.05, None, 0.0, (), replaced=NEW_ORP)
    after = update(watched.plant, PARAMS, watched.estimate, inputs)
    assert var_of(after.cov, OFFSET) > 50.0**2
