"""What is barred is not planned with; what must last through a rest of the pump is reckoned with its sun."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from math import log

import pytest

from dosectl.cli.ahead import held_lines
from dosectl.core.advice.enough import Enough, enough
from dosectl.core.advice.feeding import Allowed, capacity_mg_l_h, feeding, under_cover, with_record
from dosectl.core.advice.forecast import Hour, ahead
from dosectl.core.control.habit import FlowHabit
from dosectl.core.controller.state import Durable
from dosectl.core.estimate.state import SUN, Estimate
from dosectl.core.estimate.view import water
from dosectl.core.evidence import Standing
from dosectl.core.site import Site
from dosectl.model.feeds import FeederId, Substance
from dosectl.model.instant import Instant
from dosectl.model.reasons import Code, Reason
from dosectl.model.verdicts import Bar
from dosectl.pool_model.scenarios import QUINCE_HOUSE_START, quince_house
from dosectl.rehearsal.season import Season
from tests.builders import a_habit_in_parts

ALLOWED = Allowed(5.0, 1.0)
WIDE = Allowed(40.0, 20.0)
NOW = datetime(2026, 7, 20, 12, tzinfo=UTC)
NIGHT = FlowHabit(tuple(1.0 if hour >= 20 or hour < 4 else 0.0 for hour in range(24)))  # 22 to 6 at the pool
NOON = FlowHabit(tuple(1.0 if 6 <= hour < 18 else 0.0 for hour in range(24)))


@pytest.fixture(scope="module")
def season() -> Season:
    """Quince House after two days."""
    season = Season(quince_house(), QUINCE_HOUSE_START, 3)
    season.run(2.0)
    return season


def kept(season: Season) -> Durable:
    return season.loop.state.durable


def foretold(
    season: Season,
    hours: int,
    allowed: Allowed,
    standing: Standing | None = None,
    site: Site | None = None,
    est: Estimate | None = None,
) -> tuple[Hour, ...]:
    plan, durable = season.loop.plan, kept(season)
    return ahead(
        *(site or plan.site, plan.estimate, plan.control, est or durable.estimate, durable.habit),
        *(standing or durable.standing, season.plant.utc, hours, allowed),
    )


def summer(
    season: Season, habit: FlowHabit, flow_h: float | None = None, est: Estimate | None = None, size: float = 1.0
) -> Enough:
    plan = season.loop.plan
    site = replace(plan.site, feeders=tuple(replace(f, rate_g_s=size * f.rate_g_s) for f in plan.site.feeders))
    return enough(site, plan.estimate, plan.control, est or kept(season).estimate, habit, NOW, WIDE, 25.0, flow_h)


def test_a_pump_that_runs_a_part_of_each_hour_has_no_rest_of_a_day(season: Season) -> None:
    """20 minutes of each hour: a rest of 24 hours was reckoned with, and no feeder was enough."""
    habit = a_habit_in_parts(1.0 / 3.0, NOW)
    found = summer(season, habit, size=3.0)
    assert found.flow_h == pytest.approx(8.0)
    assert found.rest.hours == 0.0
    assert found.lasts
    assert summer(season, a_habit_in_parts(1.0 / 3.0, NOW - timedelta(days=9)), size=3.0).rest.hours == 24.0  # it stands still


def a_bar(feeder: str, rate_mg_l_day: float | None = None, code: str = "feeder.stands_still") -> Bar:
    why = Reason(Code(code), (), Instant(0.0, QUINCE_HOUSE_START, "test"))
    return Bar(FeederId(feeder), Code("feeder.still"), why, rate_mg_l_day)


def test_the_band_of_this_hour_is_the_one_that_the_status_states(season: Season) -> None:
    shown = water(season.loop.plan.site, kept(season).estimate, season.loop.plan.estimate)
    now = foretold(season, 1, ALLOWED)[0]
    assert shown.low95_mg_l < now.low_mg_l < now.high_mg_l < shown.high95_mg_l
    assert log(now.high_mg_l / now.low_mg_l) == pytest.approx(log(shown.high95_mg_l / shown.low95_mg_l) * 1.6449 / 1.96, rel=1e-3)


def test_of_two_chlorine_feeders_the_one_that_is_left_is_planned_with(season: Season) -> None:
    plan = season.loop.plan
    cell = next(feeder for feeder in plan.site.feeders if feeder.substance is Substance.CHLORINE)
    weak = replace(cell, id=FeederId("second"), rate_g_s=0.05 * cell.rate_g_s)
    site = replace(plan.site, feeders=(*plan.site.feeders, weak))

    def fed(*bars: Bar) -> float:
        return sum(hour.fed_mg_l for hour in foretold(season, 48, replace(ALLOWED, bars=bars), site=site))

    assert fed(a_bar("second")) == pytest.approx(fed(), rel=0.1)
    assert 0.0 < fed(a_bar(str(cell.id))) < 0.3 * fed()
    assert fed(a_bar(str(cell.id)), a_bar("second")) == 0.0
    assert fed(a_bar("acid")) == pytest.approx(fed(), rel=0.1)


def test_a_stop_holds_before_anything_was_judged_again(season: Season) -> None:
    why = a_bar("cell").why
    for standing in (replace(kept(season).standing, stop=why), replace(kept(season).standing, service=why)):
        assert sum(hour.fed_mg_l for hour in foretold(season, 48, ALLOWED, standing)) == 0.0


def test_with_acid_barred_the_ph_only_rises(season: Season) -> None:
    days = (*kept(season).standing.daily_use_mg_l, (Substance.ACID, (3.0,) * 5))
    standing = replace(kept(season).standing, daily_use_mg_l=days)
    barred = [hour.ph for hour in foretold(season, 96, replace(ALLOWED, bars=(a_bar("acid"),)), standing)]
    assert barred == sorted(barred)
    assert barred[-1] > foretold(season, 96, ALLOWED, standing)[-1].ph + 0.05


def test_what_the_last_day_took_of_the_limit_is_not_fed_again(season: Season) -> None:
    for before in (0.0, 2.0):
        hours = foretold(season, 20, Allowed(2.0, 1.0, fed_mg_l=(*(0.0,) * 20, before, 0.0, 0.0)))
        assert (sum(hour.fed_mg_l for hour in hours) > 0.0) is (before == 0.0)


def test_the_record_tells_what_the_last_day_took(season: Season) -> None:
    durable, site = kept(season), season.loop.plan.site
    allowed = with_record((5.0, 1.0), site, durable.standing, (), durable.ledger, (), durable.clocks.clock_s)
    assert len(allowed.fed_mg_l) == 23
    whole = durable.ledger.window_g(Substance.CHLORINE, durable.clocks.clock_s, 23 * 3600.0) / site.pool.volume_m3
    assert sum(allowed.fed_mg_l) == pytest.approx(whole)
    assert whole > 0.5


def test_after_a_week_the_fall_back_is_the_later_one(season: Season) -> None:
    durable, site = kept(season), season.loop.plan.site
    standing = replace(durable.standing, fallback_since_s=durable.clocks.clock_s - 6 * 86400.0)
    bars = (a_bar("cell", 1.44, "probe.fallback"),)
    allowed = with_record((5.0, 1.0), site, standing, bars, durable.ledger, (), durable.clocks.clock_s)
    assert allowed.later_s == pytest.approx(86400.0)
    hours = foretold(season, 96, allowed, standing)
    days = [sum(hour.fed_mg_l for hour in hours[day * 24 : day * 24 + 24]) for day in range(4)]
    assert days[3] == pytest.approx(allowed.later_mg_l, rel=0.1)
    assert days[3] < 0.6 * 1.44


def test_a_rate_holds_to_its_end_and_the_looser_one_that_outlasts_it_from_there_on(season: Season) -> None:
    end = season.plant.utc + timedelta(hours=48)
    tight = replace(a_bar("cell", 0.3, "mass.learned_cut"), until=end)
    held = replace(ALLOWED, bars=(a_bar("cell", 1.0, "probe.fallback"), tight))
    days = [sum(hour.fed_mg_l for hour in foretold(season, 96, held)[day * 24 : day * 24 + 24]) for day in range(4)]
    assert max(days[:2]) <= 0.3 + 1e-6 < 0.7 < days[3] <= 1.0 + 1e-6
    plan, durable = season.loop.plan, kept(season)
    may = feeding(plan.site, plan.control, durable.habit, durable.standing, held)
    first, second = held_lines(plan.site, may)
    assert first.startswith("At most 0.3 mg/L of chlorine a day are fed until 15 Jul 08:00, ")  # two days and two
    assert second.startswith("At most 1.0 mg/L of chlorine a day are fed as things stand")
    alone = feeding(plan.site, plan.control, durable.habit, durable.standing, replace(ALLOWED, bars=(tight,)))
    assert len(held_lines(plan.site, alone)) == 1


def test_the_sun_takes_by_the_light_that_is_reckoned_with(season: Season) -> None:
    est = kept(season).estimate
    lost: list[float] = []
    for light in (est, replace(est, light_share=0.5), replace(est, cover_closed=True), replace(est, cover_closed=False)):
        hours = foretold(season, 24, Allowed(0.0, 0.0), est=light)
        lost.append(log(hours[0].free_chlorine_mg_l / hours[-1].free_chlorine_mg_l))
    clear, half, closed, opened = lost
    assert 0.0 < closed < half < clear == opened
    assert half - closed == pytest.approx(0.5 * (clear - closed), rel=0.1)  # the sun takes in proportion to its light


def test_under_a_cover_a_cell_has_its_hour_bounded(season: Season) -> None:
    bar = Bar(FeederId("cell"), Code("cover.closed"), a_bar("cell").why, 2.0)
    shut = under_cover(replace(WIDE, bars=(bar,)), season.loop.plan.site, 0.2)
    full = capacity_mg_l_h(season.loop.plan.site)
    assert shut.hour_mg_l == pytest.approx(max(0.2 * full, 2.0 / 8.0))
    assert under_cover(WIDE, season.loop.plan.site, 0.2) is WIDE


def test_a_pump_that_rests_by_day_leaves_the_pool_to_the_sun(season: Season) -> None:
    mean = list(kept(season).estimate.mean)
    mean[SUN] += log(3.0)  # as with little stabiliser
    open_sun = replace(kept(season).estimate, mean=tuple(mean))
    by_night, by_day = (summer(season, habit, est=open_sun, size=20.0) for habit in (NIGHT, NOON))
    assert min(by_night.gives_low_mg_l, by_night.limit_mg_l) > by_night.loss_high_mg_l  # by the day's sum all is well
    assert (by_night.rest.from_utc.hour, by_night.rest.hours) == (4, 16)
    assert by_night.rest.by_day
    assert by_night.verdict == "not enough"
    assert by_night.rest.left_mg_l < by_night.band_low_mg_l
    assert (by_day.rest.from_utc.hour, by_day.rest.hours) == (18, 12)
    assert not by_day.rest.by_day
    assert by_day.verdict == "enough"
    assert by_night.rest.goes_mg_l > 2.0 * by_day.rest.goes_mg_l


def test_hours_that_are_asked_about_lie_about_the_middle_of_the_usual_ones(season: Season) -> None:
    for habit, begins in ((NIGHT, 3), (NOON, 15)):
        six = summer(season, habit, 6.0)
        assert (six.rest.from_utc.hour, six.rest.hours) == (begins, 18)
    whole = summer(season, NOON, 24.0)
    assert (whole.rest.hours, whole.rest.goes_mg_l) == (0, 0.0)
