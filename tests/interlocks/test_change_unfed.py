"""A change with nothing fed: a siphon, or somebody who poured in; and what is none."""

from dataclasses import replace

import pytest

from dosectl.core.interlocks.guard import FRESH
from dosectl.model.verdicts import Denial, Permit, Verdict
from tests.builders import (
    ACID,
    CELL,
    CLOCK_S,
    a_ledger,
    feeding,
    later,
    run,
    with_facts,
    with_flow,
    with_value,
)
from tests.interlocks.test_feeder_guards import HEALTHY, HOUR_S, SITE, the


@pytest.mark.parametrize(("signal", "change", "locks"), [("ph", -0.35, True), ("orp", 65.0, False)])
def test_a_reading_that_moves_with_nothing_fed_holds_feeding_four_hours(signal, change, locks):
    guard = the(f"change.unfed.{signal}", CELL)
    before = {"ph": 7.5, "orp": 700.0}[signal]
    _, memory = guard.judge(HEALTHY, FRESH)
    jumped = with_value(later(HEALTHY, 900.0), signal, before + change)
    verdict, memory, jumped = run(guard, jumped, memory, 110.0, 10.0)
    assert isinstance(verdict, Permit)
    spike, _ = guard.judge(with_value(later(jumped, 5.0), signal, before), memory)
    assert isinstance(spike, Permit)
    verdict, memory = guard.judge(later(jumped, 10.0), memory)
    assert isinstance(verdict, Denial)
    assert not verdict.latched
    verdict, memory, evidence = run(guard, jumped, memory.restarted(), 3.9 * HOUR_S, 300.0)
    assert isinstance(verdict, Denial)
    verdict, memory, evidence = run(guard, evidence, memory, 0.3 * HOUR_S, 300.0)
    assert isinstance(verdict, Permit)
    again = with_value(later(evidence, 300.0), signal, before + 2.0 * change)
    verdict, memory, again = run(guard, again, memory, 120.0, 60.0)
    assert verdict.latched is locks
    verdict, _ = guard.judge(later(again, 5 * HOUR_S), memory)
    assert isinstance(verdict, Denial if locks else Permit)  # what is locked stays so when all is quiet again


def test_the_same_move_after_a_feed_or_in_unsettled_water_says_nothing():
    guard = the("change.unfed.ph")
    fed = with_facts(HEALTHY, ACID, ran_s=CLOCK_S - 1800.0)
    young = with_flow(HEALTHY, pump=True, flow=True, since_s=CLOCK_S - 1800.0)
    for evidence in (fed, young, feeding(HEALTHY, ACID)):
        _, memory = guard.judge(evidence, FRESH)
        assert isinstance(run(guard, with_value(later(evidence, 900.0), "ph", 7.0), memory, 180.0, 60.0)[0], Permit)


def test_a_fall_that_a_feed_brought_is_not_taken_for_a_siphon_when_the_feed_is_long_over():
    guard = the("change.unfed.ph")
    _, memory = guard.judge(HEALTHY, FRESH)
    fed = with_value(later(with_facts(HEALTHY, ACID, ran_s=CLOCK_S), 600.0), "ph", 7.1)
    verdict, memory, _ = run(guard, fed, memory, 3 * HOUR_S, 60.0)
    assert isinstance(verdict, Permit)
    assert memory.marks == ()


def test_a_container_that_falls_with_its_feeder_off_stops_everything():
    guard = the("change.unfed.acid_level", CELL)
    full = with_value(HEALTHY, "acid_level", 80.0)
    _, memory = guard.judge(full, FRESH)
    assert isinstance(run(guard, with_value(later(full, 600.0), "acid_level", 77.5), memory, 120.0, 60.0)[0], Denial)


def a_falling_container(percent_h: float, fed_ml_h: float) -> Verdict:
    """An hour of a 5 L container that falls while its feeder is fed, and booked, at a rate; the last verdict."""
    guard = the("change.unfed.acid_level", CELL)
    memory, verdict = FRESH, guard.permit
    fed = []
    for minute in range(60):
        at_s = 60.0 * minute
        fed.append((CLOCK_S + at_s, fed_ml_h / 60.0 / SITE.feeder(ACID).ml_per_g))
        evidence = with_value(later(HEALTHY, at_s), "acid_level", 80.0 - percent_h * minute / 60.0)
        evidence = replace(with_facts(evidence, ACID, ran_s=CLOCK_S + at_s), ledger=a_ledger(SITE, {ACID: tuple(fed)}))
        verdict, memory = guard.judge(evidence, memory)
        if isinstance(verdict, Denial):
            return verdict
    return verdict


def test_a_container_that_falls_faster_than_it_is_fed_stops_everything_while_it_is_fed_too():
    assert isinstance(a_falling_container(percent_h=30.0, fed_ml_h=240.0), Denial)


def test_a_container_that_falls_as_it_is_fed_stops_nothing_even_if_the_pump_gives_a_third_more():
    assert isinstance(a_falling_container(percent_h=24.0, fed_ml_h=1200.0), Permit)
    assert isinstance(a_falling_container(percent_h=32.0, fed_ml_h=1200.0), Permit)
