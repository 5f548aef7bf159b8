"""A step that comes long after the one before: nobody watched the water in between."""

import pytest

from dosectl.core.controller.facts import FlowTrace, flow_facts
from dosectl.core.evidence import FlowFacts
from dosectl.model.signals import SignalId
from tests.builders import CLOCK_S, a_reading, a_site

SITE = a_site(expires_s=10.0)
PROVEN_FOR_S = 1800.0


def after(gap_s: float) -> FlowFacts:
    """Flow that was proven for half an hour, and shows good at the next step."""
    clock_s = CLOCK_S + gap_s
    readings = {SignalId(name): a_reading(name, True, at_s=clock_s) for name in ("flow", "pump")}
    trace = FlowTrace(CLOCK_S - PROVEN_FOR_S, True, CLOCK_S - PROVEN_FOR_S)
    facts, _ = flow_facts(SITE, readings, (), trace, 5000.0, clock_s, gap_s)
    return facts


def test_flow_that_shows_at_each_step_goes_on() -> None:
    facts = after(5.0)
    assert facts.proven
    assert facts.since_s == CLOCK_S - PROVEN_FOR_S
    assert facts.clock_s == 5005.0


@pytest.mark.parametrize("gap_s", [20.0, 755.0])
def test_flow_is_proven_anew_after_a_gap_that_no_message_outlasts(gap_s: float) -> None:
    """A machine asleep for 755 s, the pump off for most of them: acid and hypochlorite were let follow each other at once."""
    facts = after(gap_s)
    assert facts.proven
    assert facts.since_s == CLOCK_S + gap_s
    assert facts.clock_s == 5000.0
