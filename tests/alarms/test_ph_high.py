"""A pH that hangs at its limit is called as long as a guard holds chlorine for it."""

import pytest

from dosectl.model.reasons import Code, Reason
from dosectl.model.verdicts import Limit
from tests.alarms.faults import Objections, Run, healthy, names
from tests.builders import CELL, CLOCK_S, an_instant, later, with_value

RAISED = ("water.ph_high", "raised")


def held() -> Objections:
    why = Reason(Code("high.ph_held"), (("signal", "ph"), ("rate_mg_l_day", 3.1), ("limit", 8.0)), an_instant())
    return {CELL: (Limit(Code("high.ph.rate"), 10.0, why),)}


def watched(run: Run, minutes: int, ph: float, objections: Objections) -> None:
    for _ in range(minutes):
        clock_s = run.evidence.clock_s + 60.0
        run.evidence = with_value(later(healthy(), clock_s - CLOCK_S), "ph", ph)
        run.look(objections)


def test_a_ph_between_the_limit_and_its_deadband_is_called_while_chlorine_is_held_for_it() -> None:
    """One reading of 8.21, then 8.15 for days: nobody heard of it until the chlorine was gone."""
    run = Run()
    watched(run, 1, 8.21, held())
    watched(run, 20, 8.15, held())
    assert RAISED in names(run.changes)
    watched(run, 60, 8.05, {})
    assert ("water.ph_high", "cleared") in names(run.changes)


@pytest.mark.parametrize("ph", [8.10, 8.05])
def test_it_is_called_as_long_as_the_guard_holds_whatever_the_reading_does(ph: float) -> None:
    run = Run()
    watched(run, 1, 8.21, held())
    watched(run, 30, ph, held())
    assert RAISED in names(run.changes)
    assert run.alarm("water.ph_high").why is not None
    assert run.alarm("water.ph_high").why.fact("limit") == 8.0  # type: ignore[union-attr]


def test_without_a_guard_that_holds_chlorine_it_is_no_alarm() -> None:
    run = Run()
    watched(run, 1, 8.21, {})
    watched(run, 60, 8.15, {})
    assert RAISED not in names(run.changes)
