"""Water that stood dead eats what is fed to it. Truth, written down here: a stock of demand takes it before any stays.

Common practice: a pool left without chlorine needs many times its usual amount before any of it holds.
"""

from dataclasses import replace
from datetime import timedelta
from math import exp, log, log10

import pytest

from dosectl.chemistry.chlorine import hocl_mg_l
from dosectl.core.estimate.begin import start
from dosectl.core.estimate.chlorine import blooming
from dosectl.core.estimate.filter import update
from dosectl.core.estimate.filters import correct, rows_of, triangle_of
from dosectl.core.estimate.params import EstimateParams
from dosectl.core.estimate.state import CHLORINE, DEMAND, OFFSET, Estimate, EstimateInputs
from dosectl.model.feeds import Substance
from dosectl.model.requests import RequestId
from dosectl.model.water_tests import Quantity, WaterTest
from tests.builders import a_test, an_instant
from tests.estimate.toy_pool import cell, site

SITE = site(cell())
PARAMS = EstimateParams()
STEP_S = 300.0
TRUE_OFFSET_MV, SLOPE_MV = 700.0, 40.0


class Opened:
    """A covered pool of 15 degC whose chlorine is used up, and which is fed again from a day on."""

    def __init__(self) -> None:
        self.free_mg_l, self.stock_mg_l, self.clock_s = 3.0, 0.0, 0.0
        self.est: Estimate = start(SITE, PARAMS, (a_test(Quantity.FREE_CHLORINE, 3.0, 0.0, sigma=0.1),), 0.0)

    def days(self, count: float, fed_mg_l_day: float, shift_mv: float = 0.0) -> None:
        for _ in range(round(count * 86400.0 / STEP_S)):
            self._step(fed_mg_l_day * STEP_S / 86400.0, shift_mv)

    def test(self, shift_mv: float = 0.0) -> None:
        """A test by hand, and a second sample a quarter of an hour later, as who is told that it differs would take it again."""
        for no in ("1", "2"):
            test = a_test(
                Quantity.FREE_CHLORINE, self.free_mg_l, self.clock_s, request=RequestId(f"{self.clock_s} {no}"), sigma=0.1
            )
            self._step(0.0, shift_mv, (test,))
            for _ in range(3):
                self._step(0.0, shift_mv)

    def enter(self, test: WaterTest) -> None:
        self._step(0.0, 0.0, (test,))

    def _step(self, fed: float, shift_mv: float, tests: tuple[WaterTest, ...] = ()) -> None:
        days = STEP_S / 86400.0
        self.clock_s += STEP_S
        self.free_mg_l = max(0.0, self.free_mg_l - 0.8 * days) + fed
        if self.free_mg_l < 0.05:
            self.stock_mg_l = min(max(4.0, self.stock_mg_l), self.stock_mg_l + 0.5 * days)
        eaten = min(self.free_mg_l, self.stock_mg_l, 8.0 * days)
        self.free_mg_l, self.stock_mg_l = self.free_mg_l - eaten, self.stock_mg_l - eaten
        shown = TRUE_OFFSET_MV + SLOPE_MV * log10(max(1e-4, hocl_mg_l(self.free_mg_l, 50.0, 7.5)) / 0.03) + shift_mv
        self.est = update(
            SITE,
            PARAMS,
            self.est,
            EstimateInputs(
                clock_s=self.clock_s, utc=an_instant().utc + timedelta(seconds=self.clock_s), dt_s=STEP_S, orp_mv=shown, ph=7.5,
                ph_sigma=0.03, temp_c=15.0, flow_proven_for_s=self.clock_s, fed=((Substance.CHLORINE, fed),), cover_closed=True,
                new_tests=tests,
            ),
        )  # fmt: skip


def test_dead_water_that_is_fed_again_is_not_believed_held_and_teaches_no_wrong_electrode() -> None:
    pool = Opened()
    pool.days(14.0, 0.0)
    assert pool.free_mg_l == 0.0
    assert exp(pool.est.mean[CHLORINE]) < 0.1
    for _ in range(16):
        pool.days(0.25, 2.0)
        believed = exp(pool.est.mean[CHLORINE])
        assert abs(pool.est.mean[OFFSET] - TRUE_OFFSET_MV) < 25.0
        assert believed < 3.0 * pool.free_mg_l + 0.6
    assert exp(pool.est.mean[CHLORINE]) == pytest.approx(pool.free_mg_l, rel=0.35)
    pool.days(6.0, 1.2)
    off = abs(log(exp(pool.est.mean[CHLORINE]) / pool.free_mg_l))
    assert off < 1.645 * rows_of(pool.est.cov)[CHLORINE][CHLORINE] ** 0.5


def test_once_the_water_holds_its_demand_is_the_usual_again_within_a_week() -> None:
    pool = Opened()
    pool.days(14.0, 0.0)
    dead = pool.est.mean[DEMAND]
    assert dead > log(2.0 * PARAMS.demand_mg_l_day)
    pool.days(4.0, 2.0)
    pool.days(7.0, 1.0)
    assert pool.est.mean[DEMAND] < dead
    assert exp(pool.est.mean[DEMAND]) < 3.0 * PARAMS.demand_mg_l_day


def test_a_considered_state_keeps_its_value_and_its_doubt_while_the_rest_learns() -> None:
    est = start(SITE, PARAMS)
    mean, p = list(est.mean), rows_of(est.cov)
    h = ((CHLORINE, 16.0), (OFFSET, 1.0))
    before_var, before_mean = p[OFFSET][OFFSET], mean[OFFSET]
    chlorine_var = p[CHLORINE][CHLORINE]
    correct(mean, p, h, 10.0, 36.0, kept=(OFFSET,))
    assert (mean[OFFSET], p[OFFSET][OFFSET]) == (before_mean, before_var)
    assert p[CHLORINE][CHLORINE] < chlorine_var
    # The covariance is that of the gain used: (I - K h) P (I - K h)' + K R K', by hand for two states.
    whole = 256.0 * chlorine_var + before_var + 36.0
    gain = 16.0 * chlorine_var / whole
    kept = 1.0 - 16.0 * gain
    assert p[CHLORINE][CHLORINE] == pytest.approx(kept**2 * chlorine_var + gain**2 * (before_var + 36.0))
    assert p[CHLORINE][OFFSET] == pytest.approx(-gain * before_var)
    assert rows_of(triangle_of(p)) == p


def test_a_pool_that_is_fed_and_read_too_low_is_no_dead_water() -> None:
    """An electrode that drops by 60 mV: the reading contradicts what is fed, and a test days later puts it right."""
    pool = Opened()
    pool.days(3.0, 0.8)
    for _ in range(20):
        pool.days(1.0 / 24.0, 4.8, shift_mv=-60.0)
        pool.days(5.0 / 24.0, 0.0, shift_mv=-60.0)
        assert pool.est.dead_s == 0.0
    pool.test(shift_mv=-60.0)
    pool.days(2.0, 0.8, shift_mv=-60.0)
    assert exp(pool.est.mean[CHLORINE]) == pytest.approx(pool.free_mg_l, rel=0.4)
    assert pool.est.mean[OFFSET] < TRUE_OFFSET_MV - 25.0


def test_the_case_of_dead_water_ends_by_itself_some_days_after_the_feed_began_and_with_a_test_that_finds_chlorine() -> None:
    pool = Opened()
    pool.days(14.0, 0.0)
    assert blooming(list(pool.est.mean), pool.est.dead_s)
    pool.days(16.0, 0.3)
    assert not blooming(list(pool.est.mean), pool.est.dead_s)
    tested = Opened()
    tested.days(14.0, 0.0)
    tested.free_mg_l, tested.stock_mg_l = 2.0, 0.0
    tested.test()
    assert tested.est.dead_s < 1000.0


def test_dead_water_that_is_fed_by_pulses_and_rests_at_night_is_fed_water() -> None:
    """Feeders rest most minutes and all night: while one minute's feed counted, the case never ended in water fed for weeks."""
    pool = Opened()
    pool.days(14.0, 0.0)
    pool.stock_mg_l = 60.0  # what is fed goes on being eaten
    for _ in range(16):
        for _ in range(12):
            pool.days(1.0 / 288.0, 48.0)  # a pulse of five minutes
            pool.days(11.0 / 288.0, 0.0)
        pool.days(0.5, 0.0)
    assert pool.free_mg_l < 0.2
    assert not blooming(list(pool.est.mean), pool.est.dead_s)


@pytest.mark.parametrize("minutes", [0, 20, 120])
def test_what_dead_water_taught_ends_with_the_test_however_late_it_is_typed_in(minutes: int) -> None:
    pool = Opened()
    pool.days(14.0, 0.0)
    pool.free_mg_l, pool.stock_mg_l = 2.0, 0.0
    pool.days(0.5, 2.0)
    taken = a_test(Quantity.FREE_CHLORINE, pool.free_mg_l, pool.clock_s, request=RequestId("late"), sigma=0.1)
    pool.days(minutes / 1440.0, 2.0)
    assert pool.est.dead_s > 0.0
    mean = list(pool.est.mean)
    mean[DEMAND] = log(9.0)
    hours = tuple(replace(h, mean=tuple(mean)) for h in pool.est.history[-2:])
    pool.est = replace(pool.est, mean=tuple(mean), history=hours)
    pool.enter(taken)
    assert pool.est.dead_s == 0.0
    assert exp(pool.est.mean[DEMAND]) < 2.6 * PARAMS.demand_mg_l_day


def test_a_late_test_that_is_doubted_counts_for_nothing() -> None:
    pool = Opened()
    pool.days(14.0, 0.0)
    for at, value in ((0.0, 7.4), (3600.0, 15.0)):  # no two that say the same, which would be believed
        tested_s, dead_s = pool.est.tested_s, pool.est.dead_s
        pool.enter(a_test(Quantity.FREE_CHLORINE, value, pool.clock_s - at, request=RequestId(f"slip {at}"), sigma=0.2))
        assert f"slip {at}" in pool.est.doubted
        assert pool.est.tested_s == tested_s
        assert pool.est.dead_s >= dead_s


def test_once_a_test_has_found_chlorine_the_demand_of_the_dead_water_is_gone() -> None:
    """It stayed at ten times the usual: each night the estimate fell to nothing while the pool stood at 2 to 7 mg/L."""
    pool = Opened()
    pool.days(14.0, 0.0)
    pool.free_mg_l, pool.stock_mg_l = 2.0, 0.0
    mean = list(pool.est.mean)
    mean[CHLORINE], mean[DEMAND] = log(3.5), log(18.0)  # more was believed than the test will find
    pool.est = replace(pool.est, mean=tuple(mean))
    pool.test()
    usual = EstimateParams().demand_mg_l_day
    assert exp(pool.est.mean[DEMAND]) <= 3.0 * usual
    before = pool.free_mg_l
    pool.days(0.5, 0.0)
    assert pool.est.mean[CHLORINE] > log(0.3 * before)
