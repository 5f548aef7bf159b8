"""When a water test is asked for: by what it would buy, and after a week whatever is believed."""

from dataclasses import replace
from math import exp, log, pi, sqrt

import pytest

from dosectl.core.alarms.due import bought
from dosectl.core.evidence import Evidence
from dosectl.model.water_tests import Quantity
from tests.alarms.faults import Bounds, Run, healthy, names
from tests.builders import CLOCK_S, a_test, with_flow

DAY_S = 86400.0


def doubt(log_sigma: float, ph_sigma: float = 0.08) -> Bounds:
    return Bounds(3.0 * exp(-1.96 * log_sigma), 3.0 * exp(1.96 * log_sigma), ph_sigma=ph_sigma)


def aged(chlorine_days: float, ph_days: float) -> Evidence:
    """So long ago, in a controller that has run for a month."""
    tests = (
        replace(a_test(Quantity.FREE_CHLORINE, 3.0, CLOCK_S - chlorine_days * DAY_S), sigma=0.25),
        replace(a_test(Quantity.PH, 7.5, CLOCK_S - ph_days * DAY_S), sigma=0.1),
    )
    start = replace(healthy().start, started_s=CLOCK_S - 30 * DAY_S, starts_s=())
    return replace(healthy(), tests=tests, start=start)


def asked(evidence: Evidence, water: Bounds) -> bool:
    return ("water.test_due", "raised") in names(Run(evidence).look(water=water))


def outside(sigma: float, half_band: float) -> float:
    """Share of a normal distribution beyond the half band, summed in small steps of its density."""
    step = sigma / 2000.0
    inside = sum(exp(-0.5 * ((i + 0.5) * step / sigma) ** 2) for i in range(round(half_band / step))) * step
    return 1.0 - 2.0 * inside / (sigma * sqrt(2.0 * pi))


@pytest.mark.parametrize("sigma", [0.1, 0.2, 0.35])
def test_what_a_test_buys_is_the_share_of_hours_that_its_doubt_costs(sigma: float) -> None:
    half = 0.5 * log(1.5 / 0.75)
    now, left = bought(sigma, half, 0.12)
    assert now == pytest.approx(outside(sigma, half), abs=1e-3)
    assert left == pytest.approx(outside(1.0 / sqrt(sigma**-2 + 0.12**-2), half), abs=1e-3)


def test_a_pool_that_is_well_known_is_not_asked_for_a_test_within_the_week() -> None:
    assert not asked(aged(6.9, 6.9), doubt(0.12))


def test_a_doubt_that_costs_hours_asks_for_a_test_before_the_week_is_over() -> None:
    assert asked(aged(3.0, 3.0), doubt(0.25))
    assert asked(aged(3.0, 3.0), doubt(0.12, ph_sigma=0.25))


def test_a_test_just_taken_that_left_much_doubt_is_not_asked_for_again_the_next_day() -> None:
    assert not asked(aged(1.9, 3.0), doubt(0.3))


@pytest.mark.parametrize(("chlorine_days", "ph_days"), [(7.1, 1.0), (1.0, 7.1)])
def test_after_a_week_a_test_is_due_however_sure_the_estimate_is(chlorine_days: float, ph_days: float) -> None:
    assert asked(aged(chlorine_days, ph_days), doubt(0.05))


def test_the_doubt_of_a_night_without_flow_asks_for_nothing() -> None:
    assert not asked(with_flow(aged(3.0, 3.0), pump=False, flow=False), doubt(0.3))


def test_a_test_that_is_due_stays_so_until_the_doubt_is_small() -> None:
    run = Run(aged(3.0, 3.0))
    run.look(water=doubt(0.25))
    assert not names(run.look(water=doubt(0.2)))
    assert ("water.test_due", "cleared") in names(run.look(water=doubt(0.15)))


def test_a_new_installation_is_asked_for_its_first_test_at_once_however_often_it_starts() -> None:
    start = replace(healthy().start, started_s=CLOCK_S - 900.0, starts_s=())
    assert asked(replace(healthy(), tests=(), start=start), doubt(0.5))


def test_a_kit_that_reads_coarsely_buys_less_and_is_asked_for_less() -> None:
    fine = aged(3.0, 3.0)
    strips = replace(fine, tests=tuple(replace(test, sigma=0.45 * 3.0 if test.value == 3.0 else 0.3) for test in fine.tests))
    assert asked(fine, doubt(0.23))
    assert not asked(strips, doubt(0.23))


@pytest.mark.parametrize("sigma", [0.0, 1e-170, 1e200, float("inf"), float("nan")])
def test_no_doubt_however_odd_stops_the_step(sigma: float) -> None:
    now, left = bought(sigma, 0.35, 0.12)
    assert 0.0 <= left <= now <= 1.0
    assert (now > 0.9) is (not sigma < 1.0)
