"""A season of days that are alike teaches no more than they can tell: level and slope of the electrode stay where tests put them.

The pool is a tank written here on its own. It loses its chlorine by night (leaves that lie in it, algae: common practice), where
the estimate spreads its demand over the day: so each day's swing is larger than foretold, each day alike. HOCl by
`chlorine.hocl_mg_l`, whose own tests hold it against the published equilibria.
"""

from datetime import timedelta
from functools import lru_cache
from math import log, log10
from statistics import mean

import pytest

from dosectl.chemistry.chlorine import hocl_mg_l
from dosectl.core.estimate.begin import start
from dosectl.core.estimate.electrode import Reading, use_orp
from dosectl.core.estimate.fading import fade
from dosectl.core.estimate.filter import update
from dosectl.core.estimate.filters import rows_of
from dosectl.core.estimate.params import EstimateParams
from dosectl.core.estimate.state import DRIFT, OFFSET, SLOPE, Estimate, EstimateInputs
from dosectl.core.estimate.view import water
from dosectl.model.feeds import Substance
from dosectl.model.water_tests import Quantity
from tests.builders import a_test
from tests.estimate.toy_pool import BEGIN, site

PARAMS = EstimateParams()
SITE = site()
STEP_S = 600.0
DAYS, WEEK = 120, 7
LOSS_MG_L_DAY = 1.5
BY_NIGHT, EVEN = 0.85, 14.0 / 24.0  # of the loss
TRUE_SLOPE_MV = 38.0


@lru_cache(maxsize=4)
def _season(drift_mv_day: float, by_night: float) -> tuple[Estimate, tuple[float, ...]]:
    """The estimate after 120 covered days, tested each week, and ln(believed / true) of each step of flow."""
    free, clock_s, since_s = 3.0, 0.0, 0.0
    est = start(SITE, PARAMS, (a_test(Quantity.FREE_CHLORINE, free, 0.0, sigma=0.2),), 0.0)
    errors: list[float] = []
    while clock_s < DAYS * 86400.0:
        clock_s += STEP_S
        day, hour = divmod(clock_s / 3600.0, 24.0)
        flowing = 8.0 < hour <= 18.0
        since_s = since_s + STEP_S if flowing else 0.0
        fed = LOSS_MG_L_DAY * STEP_S / 36000.0 if flowing else 0.0
        lost = LOSS_MG_L_DAY * ((1.0 - by_night) / 10.0 if flowing else by_night / 14.0) * STEP_S / 3600.0
        free += fed - lost
        orp_mv = 690.0 + drift_mv_day * day + TRUE_SLOPE_MV * log10(hocl_mg_l(free, 50.0, 7.5) / 0.03)
        tested = hour == 12.0 and day % WEEK == 6.0
        est = update(
            SITE, PARAMS, est,
            EstimateInputs(
                clock_s=clock_s, utc=BEGIN + timedelta(seconds=clock_s), dt_s=STEP_S,
                orp_mv=orp_mv if flowing else None, ph=7.5, ph_sigma=0.02, temp_c=25.0, flow_proven_for_s=since_s,
                fed=((Substance.CHLORINE, fed),) if fed else (), cover_closed=True,
                new_tests=(a_test(Quantity.FREE_CHLORINE, free, clock_s, sigma=0.2),) if tested else (),
            ),
        )  # fmt: skip
        if flowing:
            errors.append(log(water(SITE, est).free_chlorine_mg_l / free))
    return est, tuple(errors)


def test_a_bend_of_each_day_does_not_add_up_over_a_season() -> None:
    """A swing that the estimate can't explain is not taken for a steeper electrode; what it believes gets better, not worse."""
    est, errors = _season(0.0, BY_NIGHT)
    month = len(errors) // 4
    assert est.mean[SLOPE] == pytest.approx(TRUE_SLOPE_MV, abs=4.0)
    assert abs(mean(errors[-month:])) < 0.03
    assert mean(abs(e) for e in errors[-month:]) < mean(abs(e) for e in errors[:month])


@pytest.mark.parametrize("drift_mv_day", [-1.0, 1.0])
def test_a_steady_drift_is_learnt_from_the_weekly_tests(drift_mv_day: float) -> None:
    est, errors = _season(drift_mv_day, EVEN)
    assert est.mean[DRIFT] == pytest.approx(drift_mv_day, abs=0.2)
    assert mean(abs(e) for e in errors[-len(errors) // 4 :]) < 0.04


def test_readings_alone_tell_no_drift_from_a_fall_of_the_chlorine() -> None:
    """A day of readings that go down by 30 mV: chlorine, demand or electrode, a test must tell; until then no drift is learnt."""
    mean_, p = list(start(SITE, PARAMS, (), 0.0).mean), rows_of(start(SITE, PARAMS, (), 0.0).cov)
    p[DRIFT][OFFSET] = p[OFFSET][DRIFT] = 0.3 * (p[DRIFT][DRIFT] * p[OFFSET][OFFSET]) ** 0.5
    before, level_mv = mean_[DRIFT], mean_[OFFSET]
    for hour in range(24):
        use_orp(mean_, p, PARAMS, Reading(660.0 - 30.0 * hour / 23.0, 7.5, 0.05, 3600.0))
    assert mean_[DRIFT] == before
    assert mean_[OFFSET] < level_mv
    assert p[DRIFT][OFFSET] < 0.3 * (p[DRIFT][DRIFT] * p[OFFSET][OFFSET]) ** 0.5


def test_what_fades_ends_at_the_usual_with_its_usual_doubt_however_the_time_is_cut() -> None:
    """The first-order Gauss-Markov process: two spells are as good as one, and at last nothing learnt is left."""
    begun = rows_of(start(SITE, PARAMS, (), 0.0).cov)

    def after(*spells: float) -> tuple[float, float]:
        mean_, p = list(start(SITE, PARAMS, (), 0.0).mean), [list(row) for row in begun]
        mean_[SLOPE], p[SLOPE][SLOPE] = 60.0, 1.0
        for times in spells:
            fade(mean_, p, SLOPE, 38.0, 9.0, times)
        return mean_[SLOPE], p[SLOPE][SLOPE]

    assert after(0.3, 0.7) == pytest.approx(after(1.0))
    assert after(1.0)[0] == pytest.approx(38.0 + 22.0 / 2.718282, rel=1e-5)
    assert after(20.0) == pytest.approx((38.0, 81.0))
