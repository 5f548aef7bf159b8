"""A day's flow begins with what stood in the probes' line: it says little of the pool.

The pool of these tests is a tank with a first-order mixing of what is fed, common practice for a home pool with jets, written
here on its own; HOCl by `chlorine.hocl_mg_l`, whose own tests hold it against the published equilibria.
"""

from dataclasses import replace
from datetime import timedelta
from math import exp, log, log10
from statistics import mean

import pytest

from dosectl.chemistry.chlorine import hocl_mg_l
from dosectl.core.estimate.begin import start
from dosectl.core.estimate.filter import update
from dosectl.core.estimate.old_water import stale_after
from dosectl.core.estimate.params import EstimateParams
from dosectl.core.estimate.state import OFFSET, Estimate, EstimateInputs
from dosectl.core.estimate.tested import told
from dosectl.core.estimate.view import water
from dosectl.model.feeds import Substance
from dosectl.model.water_tests import Quantity
from tests.builders import a_test
from tests.estimate.toy_pool import BEGIN, site

PARAMS = EstimateParams()
SITE = site()
FLOW_FROM_H, FLOW_TO_H = 8.0, 18.0
LOSS_MG_L_DAY = 1.2  # at 3 mg/L, half of it with the chlorine
FEEDS_H, FEED_S = (9.0, 12.0, 15.0), 1200.0  # as a pump does
MIXING_S = 1200.0


def _reading(mixed_mg_l: float, since_start_s: float, old_mv: float) -> float:
    return 700.0 + 38.0 * log10(hocl_mg_l(mixed_mg_l, 50.0, 7.5) / 0.03) - old_mv * exp(-since_start_s / 400.0)


def _step(est: Estimate, clock_s: float, orp_mv: float | None, fed_mg_l: float, flow_s: float, dt_s: float = 60.0) -> Estimate:
    fed = ((Substance.CHLORINE, fed_mg_l),) if fed_mg_l else ()
    inputs = EstimateInputs(
        clock_s=clock_s, utc=BEGIN + timedelta(seconds=clock_s), dt_s=dt_s, orp_mv=orp_mv, ph=7.5, ph_sigma=0.02, temp_c=25.0,
        flow_proven_for_s=flow_s, fed=fed, cover_closed=True,
    )  # fmt: skip
    return update(SITE, PARAMS, est, inputs)


def _watched(days: float, old_mv: float) -> tuple[Estimate, list[float]]:
    """A covered pool that is fed by day what it loses, tested once at its start; ln(believed / true) of each step of flow."""
    mixed, plume, clock_s, since_s, step_s = 3.0, 0.0, 0.0, 0.0, 120.0
    est = start(SITE, PARAMS, (a_test(Quantity.FREE_CHLORINE, 3.0, 0.0, sigma=0.1),), 0.0)
    found: list[float] = []
    while clock_s < days * 86400.0:
        clock_s += step_s
        hour = clock_s / 3600.0 % 24.0
        flowing = FLOW_FROM_H <= hour < FLOW_TO_H
        since_s = since_s + step_s if flowing else 0.0
        feeding = any(0.0 < (hour - begin) * 3600.0 <= FEED_S for begin in FEEDS_H)
        fed = LOSS_MG_L_DAY / len(FEEDS_H) * step_s / FEED_S if feeding else 0.0
        plume += fed
        moved = plume * (1.0 - exp(-step_s / (MIXING_S if flowing else 4.0 * MIXING_S)))
        plume -= moved
        mixed += moved - LOSS_MG_L_DAY * (0.5 + 0.5 * (mixed + plume) / 3.0) * step_s / 86400.0
        est = _step(est, clock_s, _reading(mixed, since_s, old_mv) if flowing else None, fed, since_s, step_s)
        if flowing:
            found.append(log(water(SITE, est).free_chlorine_mg_l / (mixed + plume)))
    return est, found


def test_the_old_water_of_a_days_first_flow_is_not_the_pools() -> None:
    """What stood in the line reads 60 mV lower at first, gone with 400 s: a fifth of it is left when readings count."""
    quiet, stale = (mean(found[len(found) // 2 :]) for _, found in (_watched(14, 0.0), _watched(14, 60.0)))
    assert abs(stale - quiet) < 0.04, (stale, quiet)
    assert abs(quiet) < 0.04, quiet


def test_a_late_test_that_says_nothing_does_not_bring_the_old_water_back() -> None:
    """It runs the morning's hours again: they must teach the electrode what they taught it live."""
    est, _ = _watched(1.0 + (FLOW_FROM_H + 1.5) / 24.0, 120.0)
    assert est.updated_s is not None
    late = replace(a_test(Quantity.FREE_CHLORINE, 3.0, est.updated_s - 3 * 3600.0, sigma=50.0), entered_s=est.updated_s)
    again = told(PARAMS, est, (late,), 0.5)
    assert again.mean[OFFSET] == pytest.approx(est.mean[OFFSET], abs=0.5)


def test_an_electrode_that_fell_is_found_out_where_flow_comes_for_a_quarter_of_an_hour_only() -> None:
    """All that such a pump brings is a little old; as an excuse it hid a fall of 80 mV, and the pool was fed fourfold."""
    est = start(SITE, PARAMS, (a_test(Quantity.FREE_CHLORINE, 3.0, 0.0, sigma=0.1),), 0.0)
    before_mv, most_s = 0.0, 0.0
    for minute in range(1, 8 * 1440):
        into = minute % 60
        flow_s = 60.0 * into if into <= 15 else 0.0
        fell_mv = 80.0 if minute > 5 * 1440 else 0.0
        fed = LOSS_MG_L_DAY / 24.0 / 14.0 if 0 < into <= 14 else 0.0
        est = _step(est, 60.0 * minute, _reading(3.0, 86400.0, 0.0) - fell_mv if flow_s else None, fed, flow_s)
        most_s = max(most_s, est.misfit_s)
        if minute == 5 * 1440:
            before_mv = est.mean[OFFSET]
    assert est.mean[OFFSET] - before_mv < -60.0, "the electrode is taken to have changed, not the water"
    assert most_s > 5.9 * 3600.0


def test_water_ages_by_how_long_it_stood_and_leaves_with_the_flow() -> None:
    night = stale_after(PARAMS, 0.0, 12 * 3600.0, 0.0)
    assert 0.7 * PARAMS.orp_stale_mv < night < PARAMS.orp_stale_mv
    assert stale_after(PARAMS, 0.0, 45 * 60.0, 600.0) < 3.0
    assert stale_after(PARAMS, night, 0.0, 2400.0) < 0.5
    assert stale_after(PARAMS, 5.0, 0.0, 0.0) == 5.0
