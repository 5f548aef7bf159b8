"""Weeks of healthy pools: the chlorine and pH stay where they belong, nothing trips that needs a person, and something is fed.

The simulated pool is the plant; its laws are held against published figures in tests/pool_model.
"""

from dataclasses import replace
from datetime import UTC, datetime

import pytest

from dosectl.model.feeds import Substance
from dosectl.model.water_tests import Quantity
from dosectl.pool_model.params import Party
from dosectl.pool_model.scenarios import QUINCE_HOUSE_START, quince_house, random_params
from dosectl.rehearsal.season import Season
from tests.further import further

MAY = datetime(2026, 5, 20, 6, 0, tzinfo=UTC)


@pytest.mark.parametrize("hypochlorite", [False, True], ids=["cell", "hypochlorite"])
def test_three_july_weeks_at_home(hypochlorite: bool) -> None:
    season = Season(quince_house(hypochlorite), QUINCE_HOUSE_START, 3, hypochlorite)
    tally = season.run(21)
    assert not tally.latched, tally.latched
    assert not tally.alarms, tally.alarms
    assert tally.in_band_h / tally.hours > 0.8
    assert tally.ph_out_h / tally.hours < 0.02
    assert tally.over_limit_h == 0.0
    assert tally.low_h == 0.0
    assert tally.fed_without_flow_s <= 60.0  # one stop of the pump before its hour is learnt, seen after one step of this loop
    assert season.fed(Substance.CHLORINE) > 20.0  # a controller that never feeds fails
    assert season.fed(Substance.ACID) > 5.0


def test_a_controller_that_never_feeds_would_fail_the_same_bounds() -> None:
    season = Season(quince_house(), QUINCE_HOUSE_START, 3)
    standing = replace(season.loop.state.durable.standing, proofs=())
    season.loop.state = replace(season.loop.state, durable=replace(season.loop.state.durable, standing=standing))
    tally = season.run(7)
    assert tally.in_band_h / tally.hours < 0.5
    assert season.fed(Substance.CHLORINE) == 0.0


@pytest.mark.parametrize("seed", [11, *map(further, (12, 13, 14))])
def test_random_pools_do_not_trip_what_needs_a_person(seed: int) -> None:
    season = Season(random_params(seed), MAY, seed)
    tally = season.run(10)
    assert not tally.latched, (seed, tally.latched)
    assert tally.over_limit_h == 0.0, (seed, tally.free_max)
    assert season.fed(Substance.CHLORINE) > 3.0, seed


def test_hours_of_an_empty_container_are_the_owners_stock_and_not_lost_to_a_guard() -> None:
    params = quince_house(hypochlorite=True)
    feeders = tuple(replace(feeder, fill_ml=800.0) if feeder.id == "hypo" else feeder for feeder in params.feeders)
    season = Season(replace(params, feeders=feeders), QUINCE_HOUSE_START, 3, True)
    season.away = True
    tally = season.run(2)
    assert tally.empty_h > 6.0
    assert tally.lost_h == 0.0
    assert tally.held["container.level"] == pytest.approx(tally.empty_h)


def test_the_same_seed_gives_the_same_run() -> None:
    first, second = (Season(quince_house(), QUINCE_HOUSE_START, 5) for _ in range(2))
    assert first.run(2) == second.run(2)
    assert first.loop.state.durable == second.loop.state.durable


def test_a_pool_whose_feeder_is_too_small_is_called_out_and_not_silently_lost() -> None:
    season = Season(random_params(1), datetime(2026, 7, 1, 6, 0, tzinfo=UTC), 1)  # a tired cell under a full July sun
    tally = season.run(5)
    assert tally.in_band_h / tally.hours < 0.5
    assert "pump.hours_short" in {*tally.alarms, *tally.notices}


def test_an_owner_who_heeds_calls_tests_the_chlorine_on_the_morning_after_one() -> None:
    params = random_params(219, True)  # 30 % more water than its owner believes, and hypochlorite that is seven weeks old
    params = replace(params, bathers=replace(params.bathers, parties=(Party(5, 14.0, 19.0, 12),)))
    tested = []
    for heeds in (False, True):
        season = Season(params, datetime(2026, 7, 1, 6, 0, tzinfo=UTC), 219, True)
        season.heeds = heeds
        assert season.run(3.1).alarms["feed.daily_limit"]
        tested.append(sum(test.quantity is Quantity.FREE_CHLORINE for test in season.loop.state.durable.tests))
    assert tested == [1, 2]
