"""Salt that falls shows water that was exchanged: the stabiliser is thinned alike. Mass balance of a mixed tank."""

from dataclasses import replace
from datetime import timedelta
from random import Random

import pytest

from dosectl.core.estimate.begin import start
from dosectl.core.estimate.filter import update
from dosectl.core.estimate.late_tests import run_again
from dosectl.core.estimate.params import EstimateParams
from dosectl.core.estimate.state import Estimate, EstimateInputs
from dosectl.core.estimate.view import water
from dosectl.model.water_tests import Quantity
from dosectl.rehearsal.loop import demo_loaded
from tests.builders import a_test, an_instant

SITE = demo_loaded().site  # 50 mg/L stabiliser as typed in
PARAMS = EstimateParams()
DAY_S = 86400.0


def watched(days: list[float | None], noise: float = 0.0) -> Estimate:
    """The estimate after days of these salt readings [g/L], looked at each quarter of an hour."""
    est, rng, clock_s = start(SITE, PARAMS, (), 0.0), Random(7), 0.0
    for salt in days:
        for _ in range(96):
            clock_s += 900.0
            shown = None if salt is None else salt + rng.gauss(0.0, noise)
            est = update(
                SITE,
                PARAMS,
                est,
                EstimateInputs(
                    clock_s=clock_s, utc=an_instant().utc + timedelta(seconds=clock_s), dt_s=900.0, orp_mv=None, ph=None,
                    ph_sigma=0.05, temp_c=None, flow_proven_for_s=clock_s, fed=(), salt_g_l=shown,
                ),
            )  # fmt: skip
    return est


def cya(est: Estimate) -> tuple[float, float]:
    view = water(SITE, est)
    return view.cya_mg_l, view.cya_sigma


def test_a_wet_week_that_exchanges_a_fifth_of_the_water_takes_a_fifth_of_the_stabiliser() -> None:
    falling = [3.2, *[3.2 * 0.8 ** (day / 7) for day in range(8)], 2.56, 2.56]
    steady = watched([3.2] * len(falling))
    assert cya(watched(falling))[0] == pytest.approx(0.8 * cya(steady)[0], rel=0.02)


def test_salt_that_somebody_adds_says_nothing_of_the_stabiliser() -> None:
    added = [3.2, 3.2, 3.6, 4.0, 4.0, 4.0]
    assert cya(watched(added))[0] == pytest.approx(cya(watched([3.2] * len(added)))[0], rel=0.01)


def test_the_noise_of_a_sensor_adds_up_to_nothing() -> None:
    quiet, noisy = watched([3.2] * 30), watched([3.2] * 30, noise=0.1)
    assert cya(noisy)[0] == pytest.approx(cya(quiet)[0], rel=0.02)


def test_watched_salt_leaves_less_doubt_than_none_and_a_lost_sensor_changes_nothing() -> None:
    assert cya(watched([3.2] * 30))[1] < cya(watched([None] * 30))[1]
    broken = watched([3.2, 3.2, 0.4, 0.4, 0.4])
    assert cya(broken)[0] == pytest.approx(cya(watched([3.2] * 5))[0], rel=0.01)


def test_a_test_that_is_typed_in_late_is_of_the_water_before_it_was_thinned() -> None:
    """Thinned in the hours before as well, a test of then stood for the water of now: 46 mg/L believed of 30."""
    est = watched([3.2, 3.2, 2.9, 2.9])
    early = est.history[4].start_s
    again = run_again(est, PARAMS, 1.0, est.tests, early)
    assert again.mean[4] == pytest.approx(est.mean[4], abs=0.01)
    late = a_test(Quantity.STABILISER, 80.0, early + 60.0)
    told = run_again(est, PARAMS, 1.0, (replace(late, sigma=2.0),), early + 60.0)
    assert cya(told)[0] == pytest.approx(80.0 * 2.9 / 3.2, abs=3.0)


def test_a_sensor_that_scatters_or_steps_moves_no_stabiliser_and_leaves_doubt() -> None:
    steady = cya(watched([3.2] * 24))
    for days in ([3.2 if day % 2 else 3.3 for day in range(24)], [3.2 if day // 2 % 2 else 3.68 for day in range(24)]):
        scattered = cya(watched(list(days)))
        assert scattered[0] == pytest.approx(steady[0], rel=0.08)
        assert scattered[1] > steady[1]
    replaced = cya(watched([3.2] * 12 + [2.6] * 12))
    assert replaced[0] == pytest.approx(steady[0], rel=0.05)
    assert replaced[1] > steady[1]


def test_a_salt_sensor_that_died_watches_no_longer() -> None:
    never, died = watched([None] * 40), watched([3.2] * 3 + [None] * 37)
    assert cya(died)[1] == pytest.approx(cya(never)[1], rel=0.1)
    assert cya(died)[0] == pytest.approx(cya(never)[0], rel=0.03)
