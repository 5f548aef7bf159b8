"""Hypochlorite that stood over winter gives less than it is booked for, and estimate and control reckon with it."""

from dataclasses import replace

import pytest

from dosectl.core.evidence import Standing
from dosectl.core.product import arriving_share, cold_share, mean_share, weighted, with_ages
from dosectl.core.site import Feeder
from dosectl.model.feeds import Substance
from dosectl.pool_model.plant import PoolPlant
from dosectl.pool_model.scenarios import QUINCE_HOUSE_START, quince_house
from dosectl.rehearsal.loop import ClosedLoop, demo_loaded

SITE = demo_loaded(hypochlorite=True).site
PUMP = SITE.feeder(SITE.feeding(Substance.CHLORINE)[0])
ACID = SITE.feeder(SITE.feeding(Substance.ACID)[0])
SITE_CELL = demo_loaded().site.feeding(Substance.CHLORINE)[0]
DAY_S = 86400.0


def share(days: float, feeder: str = str(PUMP.id), water_c: float = 20.0) -> float:
    return arriving_share(PUMP, Standing(refills=((type(PUMP.id)(feeder), 0.0, 20_000.0),)), days * DAY_S, water_c)


def test_fresh_product_gives_all_and_winter_takes_a_third_of_it() -> None:
    assert share(0.0) == 1.0
    # C0 / (1 + t / half-life), with some 380 days of half-life for 12.5 trade % at 20 °C; the law is tested with the chemistry
    assert share(200.0) == pytest.approx(0.66, abs=0.05)
    assert share(30.0) > share(100.0) > share(200.0) > share(5000.0) > 0.1


def test_in_warm_months_it_is_spent_four_times_as_fast_for_each_ten_degrees() -> None:
    """Lister (1956), 24.8 kcal/mol: a factor of 3.9 for 10 K near 25 °C, so a month at 30 °C takes what four take at 20 °C."""
    assert share(30.0, water_c=30.0) == pytest.approx(share(120.0, water_c=20.0), abs=0.03)
    assert share(30.0, water_c=60.0) == share(30.0, water_c=35.0), "no container is as hot as a mad reading"
    assert share(30.0, water_c=-5.0) == share(30.0, water_c=5.0)


def stored(*spells: tuple[float, float]) -> Standing:
    """A container filled on day 0 that stood beside water of these temperatures, (days, deg C) each, counted on twice an hour."""
    standing, clock_s = Standing(refills=((PUMP.id, 0.0, 20_000.0),)), 0.0
    for days, water_c in spells:
        for _ in range(round(days * 48)):
            clock_s += 1800.0
            standing = with_ages(SITE, standing, clock_s, water_c)
    return standing


def test_product_regains_nothing_when_the_water_cools() -> None:
    """While the whole age was reckoned at today's temperature, 0.58 became 0.81 in a cool week, and the feed fell short."""
    warm, cooled = stored((90.0, 28.0)), stored((90.0, 28.0), (1.0, 15.0))
    before = arriving_share(PUMP, warm, 90.0 * DAY_S, 28.0)
    after = arriving_share(PUMP, cooled, 91.0 * DAY_S, 15.0)
    assert before == pytest.approx(share(90.0, water_c=28.0), abs=0.005)
    assert after == pytest.approx(before, abs=0.005)
    assert after <= before


def test_a_cool_winter_counts_as_cool_in_a_warm_june() -> None:
    lain = stored((60.0, 15.0), (1.0, 29.0))
    by_hand = 1.0 / (1.0 + (1.0 / share(60.0, water_c=15.0) - 1.0) + (1.0 / share(1.0, water_c=29.0) - 1.0))
    assert arriving_share(PUMP, lain, 61.0 * DAY_S, 29.0) == pytest.approx(by_hand, abs=0.005)


def test_a_refill_is_new_product() -> None:
    lain = stored((90.0, 28.0))
    filled = replace(lain, refills=((PUMP.id, 90.0 * DAY_S, 20_000.0),))
    assert arriving_share(PUMP, filled, 90.0 * DAY_S, 28.0) == 1.0
    counted = with_ages(SITE, filled, 91.0 * DAY_S, 28.0)
    assert arriving_share(PUMP, counted, 91.0 * DAY_S, 28.0) == pytest.approx(share(1.0, water_c=28.0), abs=0.001)


def test_what_was_never_filled_in_and_what_does_not_age_is_taken_as_booked() -> None:
    assert share(200.0, "other") == 1.0
    old = Standing(refills=((ACID.id, 0.0, 5000.0), (PUMP.id, 0.0, 20_000.0)))
    assert arriving_share(ACID, old, 200.0 * DAY_S, 20.0) == 1.0
    assert arriving_share(replace(PUMP, kind="cell"), old, 200.0 * DAY_S, 20.0) == 1.0


def test_a_cell_gives_less_in_cold_water_and_its_settings_say_from_where() -> None:
    """Common practice: most cells limit or stop themselves below about 15 °C, labels differ."""
    cell = demo_loaded().site.feeder(SITE_CELL)
    assert cell.full_from_c == 15.0
    assert [cold_share(cell, water_c) for water_c in (30.0, 15.0, 12.5, 11.0, 5.0, -1.0)] == [1.0, 1.0, 0.5, 0.2, 0.2, 0.2]
    assert cold_share(replace(cell, full_from_c=12.0), 12.5) == 1.0
    assert cold_share(replace(cell, full_from_c=12.0), 10.0) == pytest.approx(0.6)
    assert arriving_share(cell, Standing(), 0.0, 12.5) == 0.5


def test_no_pump_gives_less_in_the_cold() -> None:
    assert cold_share(PUMP, 5.0) == 1.0
    assert cold_share(replace(PUMP, full_from_c=15.0), 5.0) == 1.0


def a_day(full_from_c: float) -> tuple[float, float]:
    """Chlorine that the ledger booked, and what the estimate was told of it, in water of some 18 °C. [mg/L]"""
    quince = quince_house()
    plant = PoolPlant(replace(quince, water=replace(quince.water, temp_c=16.0, free_chlorine_mg_l=1.5)), QUINCE_HOUSE_START, 1)
    told = demo_loaded(change=lambda text: text.replace("output_g_h = 20", f"output_g_h = 20\nfull_from_c = {full_from_c}"))
    loop = ClosedLoop.of(told, plant, step_s=120.0)
    for moment in loop.run(24.0):
        assert moment.truth.temp_c < 20.0
    booked_g = loop.state.durable.ledger.of(SITE_CELL).window_g(loop.state.durable.clocks.clock_s, 3.0 * DAY_S)
    estimate = loop.state.durable.estimate
    hours = [*estimate.history, *([estimate.hour] if estimate.hour else [])]
    return booked_g / told.site.pool.volume_m3, sum(hour.chlorine_mg_l for hour in hours)


def test_the_estimate_is_told_what_a_cell_gives_in_this_water_and_control_asks_it_for_more() -> None:
    all_of_it, told = a_day(15.0)
    assert told == pytest.approx(all_of_it, rel=0.02)
    booked, told = a_day(25.0)
    assert told == pytest.approx(0.2 * booked, rel=0.02)
    assert booked > 1.3 * all_of_it


def test_the_settings_say_from_where_a_cell_gives_all() -> None:
    told = demo_loaded(change=lambda text: text.replace("output_g_h = 20", "output_g_h = 20\nfull_from_c = 11"))
    assert told.site.feeder(SITE_CELL).full_from_c == 11.0
    assert PUMP.full_from_c == 0.0


def test_of_feeders_together_each_counts_by_what_it_gives() -> None:
    site = replace(demo_loaded().site, feeders=(*demo_loaded().site.feeders, replace(PUMP, rate_g_s=3.0 * _cell().rate_g_s)))
    both = (SITE_CELL, PUMP.id)
    shares = {SITE_CELL: 0.2, PUMP.id: 1.0}
    assert mean_share(site, both, lambda feeder: shares[feeder.id]) == pytest.approx((0.2 + 3.0) / 4.0)
    assert mean_share(site, (SITE_CELL,), lambda _: 0.2) == pytest.approx(0.2)
    assert mean_share(site, (*both, ACID.id), lambda feeder: shares.get(feeder.id, 0.0)) == pytest.approx(0.8)
    assert mean_share(site, (), lambda _: 0.2) == 1.0
    gave = {SITE_CELL: 3.0, PUMP.id: 1.0, type(PUMP.id)("gone"): 1.0}
    assert weighted(site.feeders, gave, lambda feeder: shares.get(feeder.id, 0.0)) == pytest.approx((0.6 + 1.0 + 1.0) / 5.0)


def _cell() -> Feeder:
    return demo_loaded().site.feeder(SITE_CELL)
