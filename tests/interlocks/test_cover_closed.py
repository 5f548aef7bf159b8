"""A closed cover: what it bounds, by which evidence it bounds less, and how long it counts as closed."""

from dataclasses import replace

import pytest

from dosectl.core.interlocks.guard import FRESH
from dosectl.core.interlocks.guards import cover_closed
from dosectl.model.feeds import FeederId
from dosectl.model.signals import SignalKind
from dosectl.model.verdicts import Limit, Permit
from dosectl.model.water_tests import Quantity
from tests.builders import (
    CELL,
    CLOCK_S,
    a_cell,
    a_chlorine_pump,
    a_ledger,
    a_signal,
    a_site,
    a_test,
    an_acid_pump,
    an_evidence,
    later,
    run,
    unknown,
    with_reading,
    with_value,
)
from tests.interlocks.test_feeder_guards import HEALTHY, SITE, the


def covered(evidence, *fed, site=SITE):
    return replace(with_value(evidence, "cover", True), ledger=a_ledger(site, {CELL: fed}))


def test_under_a_closed_cover_the_day_from_the_closing_on_is_bounded_to_the_fall_back_rate():
    guard = the("cover.closed", CELL)
    _, memory = guard.judge(HEALTHY, FRESH)
    before = (HEALTHY.clock_s - 7200.0, 100.0)  # met the losses of an open pool
    verdict, memory = guard.judge(covered(later(HEALTHY, 1.0), before), memory)
    assert isinstance(verdict, Limit)
    assert verdict.mass_g == pytest.approx(1.44 * 50.0 / 8.0)  # a cell's hour: the day's amount takes eight
    while_closed = (HEALTHY.clock_s + 3600.0, 70.0)
    verdict, memory = guard.judge(covered(later(HEALTHY, 10_000.0), before, while_closed), memory.restarted())
    assert verdict.mass_g == pytest.approx(1.44 * 50.0 - 70.0)
    assert verdict.why.fact("left_mg_l") == pytest.approx(0.04)
    verdict, memory = guard.judge(covered(later(HEALTHY, 92_000.0), before, while_closed), memory)
    assert verdict.mass_g == pytest.approx(1.44 * 50.0 / 8.0)


def test_a_cover_counts_as_open_after_ten_minutes_and_as_closed_where_it_was_never_heard():
    guard = the("cover.closed", CELL)
    _, memory = guard.judge(with_value(HEALTHY, "cover", True), FRESH)
    verdict, memory, evidence = run(guard, later(HEALTHY, 2.0), memory, 599.0)
    assert isinstance(verdict, Limit)
    assert isinstance(guard.judge(later(evidence, 1.0), memory)[0], Permit)
    assert isinstance(guard.judge(with_reading(HEALTHY, unknown("cover")), FRESH)[0], Limit)


def half_hours(guard, evidence, memory, *mv, cover=False):
    """Half-hours of settled flow at these ORP values. `cover` None: it is not heard."""
    verdict = None
    for value in mv:
        shown = with_value(evidence, "orp", value)
        shown = with_reading(shown, unknown("cover")) if cover is None else with_value(shown, "cover", cover)
        verdict, memory, _ = run(guard, shown, memory, 1860.0, 60.0)
        evidence = later(evidence, 1920.0)
    return verdict, memory, evidence


def test_while_the_electrode_answers_a_covered_pool_may_have_1_3_times_its_usual_use():
    """A fifth of the cell's output left a warm covered pool of no fault empty within a week."""
    guard = the("cover.closed", CELL)
    _, memory, evidence = half_hours(guard, HEALTHY, FRESH, *(700.0, 704.0) * 4)
    verdict, memory, evidence = half_hours(guard, evidence, memory, 700.0, 704.0, cover=True)
    assert verdict.why.fact("limit_mg_l") == pytest.approx(1.3 * 2.5)
    silent, *_ = half_hours(guard, evidence, memory, *(702.0,) * 96, cover=True)
    assert silent.why.fact("limit_mg_l") == pytest.approx(0.6 * 2.4)
    much = a_test(Quantity.FREE_CHLORINE, 30.0, evidence.clock_s - 60.0)
    verdict, _ = guard.judge(replace(with_value(evidence, "cover", True), tests=(much,)), memory)
    assert verdict.why.fact("limit_mg_l") == pytest.approx(0.3 * 2.4)


@pytest.mark.parametrize(("orp", "fed_g", "code"), [(690.0, 160.0, "cover.held"), (690.0, 50.0, "cover.is_closed")])
def test_a_pool_that_reads_lower_than_with_the_cover_open_while_its_limit_is_used_up_is_held_down_by_it(orp, fed_g, code):
    guard = the("cover.closed", CELL)
    _, memory, evidence = half_hours(guard, HEALTHY, FRESH, *(700.0, 704.0) * 4)
    _, memory, evidence = half_hours(guard, evidence, memory, 704.0, 700.0, orp, cover=True)
    verdict, _ = guard.judge(covered(evidence, (evidence.clock_s - 1800.0, fed_g)), memory)
    assert verdict.why.code == code


@pytest.mark.parametrize(("left_mg_l", "code"), [(0.24, "cover.held"), (0.26, "cover.is_closed")])
def test_it_is_held_down_once_less_than_a_quarter_of_a_mg_l_is_left_of_its_day(left_mg_l, code):
    guard = the("cover.closed", CELL)
    _, memory, evidence = half_hours(guard, HEALTHY, FRESH, *(700.0, 704.0) * 4)
    _, memory, evidence = half_hours(guard, evidence, memory, 704.0, 700.0, 690.0, cover=True)
    used_g = (1.3 * 2.5 - left_mg_l) * 50.0
    verdict, _ = guard.judge(covered(evidence, (evidence.clock_s - 1800.0, used_g)), memory)
    assert verdict.why.code == code


@pytest.mark.parametrize(
    ("mv", "held"),
    [
        ((704.0, 700.2, 700.2), False),
        ((704.0, 690.0), True),
        ((704.0, 690.0, 700.2, 700.2), True),
        ((704.0, 690.0, 702.0, 702.0), False),
    ],
    ids=["2 mV lower", "12 mV lower", "was low, 2 mV lower", "was low, back"],
)
def test_from_three_mv_on_it_counts_as_lower_than_with_the_cover_open_and_until_it_is_back_within_one(mv, held):
    guard = the("cover.closed", CELL)
    _, memory, evidence = half_hours(guard, HEALTHY, FRESH, *(702.0,) * 8)
    _, memory, evidence = half_hours(guard, evidence, memory, *mv, cover=True)
    verdict, _ = guard.judge(covered(evidence, (evidence.clock_s - 1800.0, 200.0)), memory)
    assert (verdict.why.code == "cover.held") is held


def test_under_a_cover_that_was_never_heard_the_first_half_hours_are_what_it_is_held_against():
    guard = the("cover.closed", CELL)
    _, memory, evidence = half_hours(guard, HEALTHY, FRESH, 702.0, 702.0, 690.0, 690.0, cover=None)
    unheard = replace(
        with_reading(evidence, unknown("cover")), ledger=a_ledger(SITE, {CELL: ((evidence.clock_s - 1800.0, 200.0),)})
    )
    verdict, _ = guard.judge(unheard, memory)
    assert verdict.why.code == "cover.held"
    assert verdict.why.fact("below_mv") == pytest.approx(12.0)


def test_what_the_electrode_reads_with_the_cover_open_is_its_mean_of_about_a_day_of_flow():
    """Half-hours of 702 mV, then a day of 690: the usual value has come down by 1 - 0.96^25 of it, and 690 is 4.3 mV under."""
    guard = the("cover.closed", CELL)
    _, memory, evidence = half_hours(guard, HEALTHY, FRESH, *(702.0,) * 8)
    _, memory, evidence = half_hours(guard, evidence, memory, *(690.0,) * 25)
    _, memory, evidence = half_hours(guard, evidence, memory, 690.0, cover=True)
    verdict, _ = guard.judge(covered(evidence, (evidence.clock_s - 1800.0, 200.0)), memory)
    assert verdict.why.fact("below_mv") == pytest.approx(12.0 * 0.96**25, abs=0.15)


def test_beside_a_pump_a_cells_hour_under_a_cover_is_its_own_and_the_day_is_common():
    hypo = a_chlorine_pump(id=FeederId("hypo"), feedback=None)
    site = a_site(feeders=(a_cell(), hypo, an_acid_pump()), more_signals=(a_signal(SignalKind.COVER),))
    cell, pump = cover_closed.KIND.build(site, cover_closed.CoverClosedParams())
    assert (cell.feeders, pump.feeders) == ((CELL,), (FeederId("hypo"),))
    evidence = replace(
        with_value(an_evidence(site), "cover", True), ledger=a_ledger(site, {FeederId("hypo"): ((CLOCK_S - 60.0, 40.0),)})
    )
    assert cell.judge(evidence, FRESH)[0].mass_g == pytest.approx(1.44 * 50.0 / 8.0)
    assert pump.judge(evidence, FRESH)[0].mass_g == pytest.approx(1.44 * 50.0 - 40.0)
