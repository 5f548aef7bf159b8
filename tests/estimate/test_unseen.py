"""The electrode reads what reaches it: fresh chlorine is on its way for tens of minutes, and a day's flow begins with old water.

The pool of these tests is a tank with a first-order mixing of what is fed, common practice for a home pool with jets, written
here on its own; HOCl by `chlorine.hocl_mg_l`, whose own tests hold it against the published equilibria.
"""

from dataclasses import replace
from datetime import timedelta
from math import exp, isfinite, log, log10
from statistics import mean

import pytest

from dosectl.chemistry.chlorine import hocl_mg_l
from dosectl.core.estimate.begin import start
from dosectl.core.estimate.electrode import Reading, use_orp
from dosectl.core.estimate.filter import update
from dosectl.core.estimate.filters import rows_of
from dosectl.core.estimate.params import EstimateParams
from dosectl.core.estimate.state import CHLORINE, EFFECT, OFFSET, Estimate, EstimateInputs
from dosectl.core.estimate.tested import told
from dosectl.core.estimate.unseen import stale_after, unmixed_after, worth_s
from dosectl.core.estimate.view import water
from dosectl.model.feeds import Substance
from dosectl.model.water_tests import Quantity
from tests.builders import a_test, an_instant
from tests.estimate.toy_pool import BEGIN, site

PARAMS = EstimateParams()
STEP_S = 120.0
FLOW_FROM_H, FLOW_TO_H = 8.0, 18.0
LOSS_MG_L_DAY = 1.2  # at 3 mg/L, half of it with the chlorine
FEEDS_H, FEED_S = (9.0, 12.0, 15.0), 1200.0  # as a pump does
SITE = site()


def _reading(mixed_mg_l: float, since_start_s: float, old_mv: float) -> float:
    old = old_mv * exp(-since_start_s / 400.0)
    return 700.0 + 38.0 * log10(hocl_mg_l(mixed_mg_l, 50.0, 7.5) / 0.03) - old


def _errors(days: int, mixing_s: float, old_mv: float) -> list[float]:
    """ln(believed / true) of each step of flow, in a covered pool that is fed by day what it loses; tested once, at the start."""
    mixed, plume, clock_s = 3.0, 0.0, 0.0
    test = a_test(Quantity.FREE_CHLORINE, 3.0, 0.0, sigma=0.1)
    est = start(SITE, PARAMS, (test,), 0.0)
    found: list[float] = []
    since_s = 0.0
    while clock_s < days * 86400.0:
        clock_s += STEP_S
        flowing = FLOW_FROM_H <= clock_s / 3600.0 % 24.0 < FLOW_TO_H
        since_s = since_s + STEP_S if flowing else 0.0
        feeding = any(0.0 < (clock_s / 3600.0 % 24.0 - hour) * 3600.0 <= FEED_S for hour in FEEDS_H)
        fed = LOSS_MG_L_DAY / len(FEEDS_H) * STEP_S / FEED_S if feeding else 0.0
        plume += fed
        moved = plume * (1.0 - exp(-STEP_S / (mixing_s if flowing else 4.0 * mixing_s)))
        plume -= moved
        mixed += moved - LOSS_MG_L_DAY * (0.5 + 0.5 * (mixed + plume) / 3.0) * STEP_S / 86400.0
        est = update(
            SITE,
            PARAMS,
            est,
            EstimateInputs(
                clock_s=clock_s, utc=BEGIN + timedelta(seconds=clock_s), dt_s=STEP_S,
                orp_mv=_reading(mixed, since_s, old_mv) if flowing else None, ph=7.5, ph_sigma=0.02, temp_c=25.0,
                flow_proven_for_s=since_s, fed=((Substance.CHLORINE, fed),) if fed else (), cover_closed=True,
            ),
        )  # fmt: skip
        if flowing and clock_s > 0.5 * days * 86400.0:
            found.append(log(water(SITE, est).free_chlorine_mg_l / (mixed + plume)))
    return found


def test_a_reading_of_water_that_the_feed_has_not_reached_takes_no_chlorine_away() -> None:
    """2.5 mg/L, of which 0.5 was fed just now: the electrode meets 2.0, and the estimate stays."""
    est = start(SITE, PARAMS, (a_test(Quantity.FREE_CHLORINE, 2.5, 0.0, sigma=0.1),), 0.0)
    before = exp(est.mean[CHLORINE])
    met = PARAMS.orp_reference_mv + PARAMS.orp_slope_mv * log10(hocl_mg_l(before - 0.5, 50.0, 7.5) / 0.03)

    def after(unmixed_mg_l: float) -> float:
        mean, p = list(est.mean), rows_of(est.cov)
        p[CHLORINE][CHLORINE], p[OFFSET][OFFSET] = 0.04, 4.0  # a known electrode in water known to a fifth
        use_orp(mean, p, PARAMS, Reading(met, 7.5, 0.0, 3600.0, unmixed_mg_l=unmixed_mg_l))
        return exp(mean[CHLORINE])

    assert after(0.5) == pytest.approx(before, rel=0.002)
    assert after(0.0) < 0.97 * before


@pytest.mark.parametrize("mixing_s", [600.0, 1200.0, 1800.0])
def test_a_wrong_guess_of_the_mixing_time_does_no_harm(mixing_s: float) -> None:
    """A fortnight, tested once at its start: 4 % at most is lost by it, where what is assumed is 1200 s."""
    errors = _errors(14, mixing_s, 0.0)
    assert abs(mean(errors)) < 0.04, mean(errors)


def test_the_old_water_of_a_days_first_flow_is_not_the_pools() -> None:
    """What stood in the line reads 60 mV lower at first, gone with 400 s: a fifth of it is left when readings count."""
    quiet, stale = _errors(14, 1200.0, 0.0), _errors(14, 1200.0, 60.0)
    assert abs(mean(stale) - mean(quiet)) < 0.04, (mean(stale), mean(quiet))


def test_what_was_on_its_way_is_mixed_in_after_a_night_without_news() -> None:
    est = start(SITE, PARAMS, (), 0.0)

    def after(est: Estimate, clock_s: float, fed_mg_l: float) -> Estimate:
        fed = ((Substance.CHLORINE, fed_mg_l),) if fed_mg_l else ()
        utc = an_instant().utc + timedelta(seconds=clock_s)
        return update(
            SITE, PARAMS, est,
            EstimateInputs(clock_s, utc, 60.0, None, None, 0.05, None, 3600.0, fed),
        )  # fmt: skip

    est = after(est, 60.0, 0.4)
    assert est.unmixed_mg_l == pytest.approx(0.4, rel=0.06)
    assert after(est, 60.0 + 12 * 3600.0, 0.0).unmixed_mg_l < 0.001


def test_mixing_is_first_order_and_slower_without_flow() -> None:
    assert unmixed_after(PARAMS, 1.0, 0.0, 0.0, PARAMS.mixing_s) == pytest.approx(exp(-1.0))
    assert unmixed_after(PARAMS, 1.0, 0.0, PARAMS.mixing_s, 0.0) > 0.7


def _step(
    est: Estimate, clock_s: float, orp_mv: float | None, fed_mg_l: float, flow_s: float, params: EstimateParams = PARAMS
) -> Estimate:
    fed = ((Substance.CHLORINE, fed_mg_l),) if fed_mg_l else ()
    inputs = EstimateInputs(
        clock_s=clock_s, utc=BEGIN + timedelta(seconds=clock_s), dt_s=60.0, orp_mv=orp_mv, ph=7.5, ph_sigma=0.02, temp_c=25.0,
        flow_proven_for_s=flow_s, fed=fed, cover_closed=True,
    )  # fmt: skip
    return update(SITE, params, est, inputs)


def _fed_at_once(params: EstimateParams) -> tuple[Estimate, float]:
    """An hour in which 1 mg/L is fed in its first ten minutes, seen by an electrode that hardly errs; and what there is then."""
    est = start(SITE, params, (a_test(Quantity.FREE_CHLORINE, 3.0, 0.0, sigma=0.05),), 0.0)
    mixed, plume = 3.0, 0.0
    for minute in range(1, 121):
        fed = 0.1 if 60 < minute <= 70 else 0.0
        plume += fed
        moved = plume * (1.0 - exp(-60.0 / params.mixing_s))
        plume -= moved
        mixed += moved
        est = _step(est, 60.0 * minute, _reading(mixed, 86400.0, 0.0), fed, 86400.0 + 60.0 * minute, params)
    return est, mixed + plume


FINE = EstimateParams(orp_sigma_mv=1.0, orp_error_s=60.0, mixing_s=3600.0, demand_mg_l_day=0.05, unknown_loss_mg_l_sqrt_day=3.0)


def test_the_filter_holds_back_what_the_feeders_brought_until_it_is_mixed_in() -> None:
    """Without that an electrode that is believed takes half of a fresh feed away again."""
    est, truth = _fed_at_once(FINE)
    assert water(SITE, est).free_chlorine_mg_l == pytest.approx(truth, rel=0.03)
    assert est.unmixed_mg_l == pytest.approx(exp(-55.0 / 60.0), rel=0.05)


def test_a_late_test_that_says_nothing_leaves_an_hour_with_a_feed_as_it_was() -> None:
    est, _ = _fed_at_once(FINE)
    late = replace(a_test(Quantity.FREE_CHLORINE, 4.0, 4500.0, sigma=50.0), entered_s=7200.0)
    again = told(FINE, est, (late,), 0.5)
    assert water(SITE, again).free_chlorine_mg_l == pytest.approx(water(SITE, est).free_chlorine_mg_l, rel=0.03)


def test_more_on_its_way_than_is_believed_there_leaves_a_level_that_can_be_read() -> None:
    est = start(SITE, PARAMS, (a_test(Quantity.FREE_CHLORINE, 0.5, 0.0, sigma=0.1),), 0.0)
    mean, p = list(est.mean), rows_of(est.cov)
    use_orp(mean, p, PARAMS, Reading(690.0, 7.5, 0.0, 3600.0, unmixed_mg_l=5.0))
    assert 0.02 < exp(mean[CHLORINE]) < 5.0
    assert all(isfinite(x) for x in mean)


def test_on_its_way_is_what_arrives_of_a_feed_less_what_is_lost_of_it() -> None:
    """Half of the booked mass arrives; at 8 mg/L a day of demand a tenth of what is there goes in an hour."""
    est = start(SITE, PARAMS, (a_test(Quantity.FREE_CHLORINE, 3.0, 0.0, sigma=0.1),), 0.0)
    half = replace(est, mean=(*est.mean[:EFFECT], log(0.5), *est.mean[EFFECT + 1 :]))
    assert _step(half, 60.0, None, 0.4, 3600.0).unmixed_mg_l == pytest.approx(0.2, rel=0.06)
    eaten = replace(est, mean=(est.mean[0], log(8.0), *est.mean[2:]), unmixed_mg_l=1.0)
    slow, lost = EstimateParams(mixing_s=7200.0), eaten
    for minute in range(1, 61):
        lost = _step(lost, 60.0 * minute, None, 0.0, 3600.0, slow)
    assert lost.unmixed_mg_l == pytest.approx(exp(-0.5) * exp(lost.mean[CHLORINE] - eaten.mean[CHLORINE]), rel=0.01)
    assert lost.unmixed_mg_l < 0.95 * exp(-0.5)


def test_an_electrode_that_fell_is_found_out_where_flow_comes_for_a_quarter_of_an_hour_only() -> None:
    """All that such a pump brings is a little old; as an excuse it hid a fall of 80 mV, and the pool was fed fourfold."""
    est = start(SITE, PARAMS, (a_test(Quantity.FREE_CHLORINE, 3.0, 0.0, sigma=0.1),), 0.0)
    offset, most_s = 0.0, 0.0
    for minute in range(1, 8 * 1440):
        into = minute % 60
        flow_s = 60.0 * into if into <= 15 else 0.0
        fell_mv = 80.0 if minute > 5 * 1440 else 0.0
        fed = 1.0 / 1440.0 * 60.0 / 14.0 if 0 < into <= 14 else 0.0  # about what is lost
        est = _step(est, 60.0 * minute, _reading(3.0, 86400.0, 0.0) - fell_mv if flow_s else None, fed, flow_s, PARAMS)
        offset, most_s = est.mean[OFFSET], max(most_s, est.misfit_s)
        if minute == 5 * 1440:
            before = est.mean[OFFSET]
    assert offset - before < -60.0, "the electrode is taken to have changed, not the water"
    assert most_s > 5.9 * 3600.0


def test_old_water_is_flushed_out_within_the_hour_and_comes_back_over_a_night() -> None:
    begun = stale_after(PARAMS, 0.0, 14 * 3600.0, 0.0)
    assert 0.7 * PARAMS.orp_stale_mv < begun < PARAMS.orp_stale_mv
    assert stale_after(PARAMS, begun, 0.0, 3600.0) < 0.1
    assert stale_after(PARAMS, 0.0, 300.0, 0.0) < 2.0
    assert worth_s(PARAMS, 60.0, begun) < 1.0 < 59.0 < worth_s(PARAMS, 60.0, 0.1)


def test_an_hour_that_is_run_again_holds_back_what_was_not_mixed_in() -> None:
    """The stored hour knows, of its readings, how much was on its way: else a late test took it off the water after all."""
    est, _ = _fed_at_once(FINE)
    late = replace(a_test(Quantity.FREE_CHLORINE, 4.0, 4500.0, sigma=50.0), entered_s=7200.0)
    assert est.hour is not None
    forgotten = replace(
        est, hour=replace(est.hour, unmixed_mg_l_s=0.0), history=tuple(replace(h, unmixed_mg_l_s=0.0) for h in est.history)
    )
    kept, lost = (water(SITE, told(FINE, one, (late,), 0.5)).free_chlorine_mg_l for one in (est, forgotten))
    assert kept > 1.02 * lost
