"""pH far outside its bounds: a day without chlorine above them, none at all below, also where the probe then fails."""

from dataclasses import replace

import pytest

from dosectl.core.interlocks.fallback import is_fallback
from dosectl.core.interlocks.guard import FRESH
from dosectl.core.interlocks.guards import high_ph
from dosectl.model.verdicts import Denial, Permit
from dosectl.model.water_tests import Quantity
from tests.builders import CLOCK_S, a_site, a_test, an_evidence, later, unknown, with_flow, with_reading, with_value

DAY_S = 86400.0
SITE = a_site()
HEALTHY = an_evidence(SITE)


def the(code):
    return next(guard for guard in high_ph.KIND.build(SITE, high_ph.HighPhParams()) if guard.code == code)


@pytest.mark.parametrize(("ph", "hours", "fed"), [(8.9, 23.9, False), (8.9, 24.1, True), (6.7, 48.0, False)])
def test_a_ph_far_too_high_stops_chlorine_for_a_day_and_then_holds_it_to_the_fall_back_and_far_too_low_stops_it(ph, hours, fed):
    """A probe that drifted up stopped chlorine for ever, and the pool lay dead at a true pH of 8."""
    guard = the("high.ph")
    far = with_value(HEALTHY, "ph", ph)
    verdict, memory = guard.judge(far, FRESH)
    assert isinstance(verdict, Denial)
    verdict, memory = guard.judge(later(far, hours * 3600.0), memory.restarted())
    assert is_fallback(verdict) is fed
    assert isinstance(verdict, Denial) is not fed


@pytest.mark.parametrize(
    ("seen", "fed"), [((8.9,), True), ((8.9, 8.75), True), ((6.7,), False), ((8.9, 6.7), False), ((6.7, 8.9), True)]
)
def test_a_ph_seen_far_too_high_and_then_lost_stops_chlorine_for_a_day_only_and_far_too_low_for_good(seen, fed):
    """A drifting glass probe ends by failing: the stop of the first day came back without end, and the pool lay at 0.0 mg/L."""
    guard, memory, evidence = the("high.ph"), FRESH, HEALTHY
    for ph in seen:
        evidence = with_value(later(evidence, 60.0), "ph", ph)
        verdict, memory = guard.judge(evidence, memory)
        assert isinstance(verdict, Denial)
    lost = with_reading(HEALTHY, unknown("ph"))
    for days in (0.5, 1.1, 3.0, 14.0):
        verdict, memory = guard.judge(later(lost, days * DAY_S), memory.restarted())
        assert is_fallback(verdict) is (fed and days > 1.0)
        assert isinstance(verdict, Denial) is not is_fallback(verdict)
        still = with_flow(later(lost, days * DAY_S), pump=False, flow=False)
        assert is_fallback(guard.judge(still, memory)[0]) is is_fallback(verdict)
    tested = replace(lost, tests=(a_test(Quantity.PH, 7.5, CLOCK_S + 14 * DAY_S),))
    assert isinstance(guard.judge(later(tested, 14.1 * DAY_S), memory)[0], Permit)


@pytest.mark.parametrize(("ph", "back", "fed"), [(6.7, 6.85, False), (8.9, 8.75, True)])
def test_in_the_deadband_a_ph_is_on_the_side_that_it_comes_from(ph, back, fed):
    """6.85 a day after 6.7 was called far too high, and chlorine fed."""
    guard = the("high.ph")
    _, memory = guard.judge(with_value(HEALTHY, "ph", ph), FRESH)
    verdict, _ = guard.judge(with_value(later(HEALTHY, 1.1 * DAY_S), "ph", back), memory.restarted())
    assert is_fallback(verdict) is fed
    assert isinstance(verdict, Denial) is not fed


def test_the_side_of_a_ph_trip_of_an_older_record_is_known_once_it_is_seen_again():
    guard = the("high.ph")
    _, memory = guard.judge(with_value(HEALTHY, "ph", 8.9), FRESH)
    older = replace(memory, marks=memory.marks[:1])
    lost = with_reading(HEALTHY, unknown("ph"))
    assert isinstance(guard.judge(later(lost, 2 * DAY_S), older)[0], Denial)
    verdict, seen = guard.judge(with_value(later(HEALTHY, 2 * DAY_S), "ph", 8.9), older)
    assert is_fallback(verdict)
    assert is_fallback(guard.judge(later(lost, 2.1 * DAY_S), seen)[0])
