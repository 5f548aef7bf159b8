"""A step that comes long after the one before: was the water watched in between?"""

import pytest

from dosectl.core.controller.facts import FlowTrace, flow_facts
from dosectl.core.evidence import FlowFacts
from dosectl.model.signals import Sample, SignalId
from tests.builders import CLOCK_S, a_reading, a_site, an_instant

SITE = a_site(expires_s=10.0)
SOURCES = (SignalId("flow"), SignalId("pump"))
PROVEN_FOR_S = 1800.0


def after(gap_s: float, every_s: float | None = None, silent: SignalId | None = None) -> FlowFacts:
    """Flow that was proven for half an hour, and shows good at the next step, with messages in between or none."""
    clock_s = CLOCK_S + gap_s
    times = [gap_s] if every_s is None else [every_s * n for n in range(1, round(gap_s / every_s) + 1)]
    samples = tuple(
        Sample(source, True, an_instant(CLOCK_S + at_s))
        for at_s in times
        for source in SOURCES
        if source != silent or at_s == times[-1]
    )
    readings = {source: a_reading(source, True, at_s=clock_s) for source in SOURCES}
    heard_s = tuple((source, CLOCK_S) for source in SOURCES)
    trace = FlowTrace(CLOCK_S - PROVEN_FOR_S, heard_s, True, CLOCK_S - PROVEN_FOR_S)
    facts, _ = flow_facts(SITE, readings, samples, trace, 5000.0, an_instant(clock_s), clock_s, gap_s)
    return facts


@pytest.mark.parametrize(("gap_s", "every_s"), [(5.0, None), (60.0, None), (755.0, 5.0)])
def test_flow_that_was_shown_without_a_gap_goes_on_however_long_the_step(gap_s: float, every_s: float | None) -> None:
    facts = after(gap_s, every_s)
    assert facts.proven
    assert facts.since_s == CLOCK_S - PROVEN_FOR_S
    assert facts.clock_s == 5000.0 + gap_s


@pytest.mark.parametrize("gap_s", [100.0, 755.0])
def test_flow_is_proven_anew_after_a_silence_that_no_reading_outlasts(gap_s: float) -> None:
    """A machine asleep for 755 s, the pump off for most of them: acid and hypochlorite were let follow each other at once."""
    facts = after(gap_s)
    assert facts.proven
    assert facts.since_s == CLOCK_S + gap_s
    assert facts.clock_s == 5000.0


@pytest.mark.parametrize("silent", SOURCES)
def test_the_silence_of_one_of_its_signals_is_enough(silent: SignalId) -> None:
    assert after(120.0, 3.0, silent).since_s == CLOCK_S + 120.0
