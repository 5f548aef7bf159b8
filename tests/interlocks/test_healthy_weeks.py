"""Weeks without a fault trip nothing that needs a person and cost next to no feeding time; a stuck probe stays bounded."""

from collections import Counter
from dataclasses import replace

import pytest

from dosectl.core.interlocks.fallback import is_fallback
from dosectl.model.verdicts import Denial, Limit
from dosectl.model.water_tests import Quantity, WaterTest
from tests.builders import ACID, CELL, CLOCK_S, a_test
from tests.interlocks.healthy_pool import DAY_S, HealthyPool, Weather

ORDINARY = {"flow.proven", "flow.settle", "lockout.spacing", "mixing.wait"}  # the daily rhythm, not a loss
HEAT = {day: Weather(sun=1.5) for day in range(8, 14)}
PARTIES = {3: Weather(party_mg_l=1.5), 15: Weather(sun=1.2, party_mg_l=2.0)}


@pytest.mark.parametrize(
    "pool",
    [
        HealthyPool(seed=1),
        HealthyPool(seed=2, days={**HEAT, **PARTIES}, known_days=0),
        HealthyPool(seed=3, hours=(8.0, 16.0), noise_mv=0.5, noise_ph=0.005, days=PARTIES),
    ],
    ids=["ordinary", "heat and parties in the first month", "eight hours and quiet probes"],
)
def test_healthy_weeks_trip_nothing_that_needs_a_person(pool):
    settled = 0
    lost: Counter[str] = Counter()
    chlorine, ph = [], []
    for evidence, objections in pool.run(16):
        since_s = evidence.flow.since_s
        if since_s is None or evidence.clock_s - since_s < 300.0:
            continue
        settled += 1
        chlorine.append(pool.chlorine_mg_l)
        ph.append(pool.ph)
        for verdict in objections[CELL]:
            if (
                isinstance(verdict, Denial) or (isinstance(verdict, Limit) and verdict.mass_g <= 0.5)
            ) and verdict.guard not in ORDINARY:
                lost[verdict.guard] += 1
            assert not is_fallback(verdict), verdict
        for verdict in objections[ACID]:
            assert not isinstance(verdict, Denial) or verdict.guard in ORDINARY, verdict
        standing = [key for key, memory in pool.memories.items() if memory.latched is not None]
        assert standing == []
    assert settled > 16 * 7.5 * 60
    assert sum(lost.values()) / settled < 0.02, lost
    tail = chlorine[len(chlorine) // 4 :]
    assert 2.0 < sum(tail) / len(tail) < 3.5
    assert max(tail) < 4.0
    assert min(ph) > 7.2
    assert max(ph) < 7.8


@pytest.mark.parametrize("noise_mv", [0.0, 2.0])
def test_a_stuck_low_probe_that_asks_for_all_is_bounded_within_three_weeks_of_small_losses(noise_mv):
    pool = HealthyPool(seed=4, noise_mv=noise_mv, stuck_mv=650.0, always_sun=0.25)
    highest = 0.0
    bound: set[str] = set()
    for _, objections in pool.run(21):
        highest = max(highest, pool.chlorine_mg_l)
        bound |= {verdict.guard for verdict in objections[CELL] if isinstance(verdict, Limit)}
    assert highest < 10.0
    assert bound & {"mass.learned", "chlorine.response", "probe.liveness.orp"}
    assert pool.chlorine_mg_l > 1.0


class _Tested(HealthyPool):
    """Its owner tests free chlorine each so many days."""

    found: tuple[WaterTest, ...] = ()
    every_days = 3

    def _evidence(self, step_s, pump):
        if self.clock_s - CLOCK_S >= self.every_days * DAY_S * len(self.found):
            self.found = (*self.found, a_test(Quantity.FREE_CHLORINE, self.chlorine_mg_l, self.clock_s))
        evidence = super()._evidence(step_s, pump)
        return replace(evidence, tests=(*evidence.tests, *self.found[-3:]))


@pytest.mark.parametrize("every_days", [3, 7])
def test_testing_does_not_raise_a_pool_with_a_stuck_probe_in_the_dark(every_days):
    """Each test ended the trips of the electrode: tested each third day the pool rose to 17, later, tested weekly, to 11 mg/L."""
    pool = _Tested(seed=4, noise_mv=2.0, stuck_mv=650.0, always_sun=0.0)
    pool.every_days = every_days
    highest = max(pool.chlorine_mg_l for _ in pool.run(28))
    assert len(pool.found) >= 28 // every_days
    assert highest < 9.0
    assert pool.chlorine_mg_l > 2.0
