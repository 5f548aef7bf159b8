"""How long a feeder ran, in flow time: what the wait for mixing goes by."""

from dosectl.core.controller.facts import FeederTrace, feeder_facts
from dosectl.core.evidence import FeederFacts
from dosectl.core.interlocks.dispatch import Dispatch, asked_off, asked_on
from dosectl.model.signals import SignalId
from tests.builders import ACID, CELL, CLOCK_S, a_reading, a_site, an_instant

SITE = a_site()


class Run:
    """The facts of one feeder in steps of 10 s; `flows`: whether the flow clock goes on."""

    def __init__(self) -> None:
        self.traces = {f.id: FeederTrace(f.id) for f in SITE.feeders}
        self.asked, self.clock_s, self.flow_s = Dispatch(CELL), CLOCK_S, 1000.0

    def step(self, on: bool, flows: bool = True) -> FeederFacts:
        self.clock_s += 10.0
        self.flow_s += 10.0 * flows
        if on:
            self.asked = asked_on(self.asked, self.clock_s, 1.0, 20.0)
        elif self.asked.asked_on:
            self.asked, _ = asked_off(self.asked, self.clock_s - 5.0, None)
        readings = {SignalId("cell_feedback"): a_reading("cell_feedback", on, at_s=self.clock_s)}
        facts, self.traces = feeder_facts(
            SITE, readings, (), {CELL: self.asked, ACID: Dispatch(ACID)}, self.traces,
            self.flow_s, an_instant(self.clock_s), self.clock_s, 10.0,
        )  # fmt: skip
        return facts[CELL]


def test_a_run_is_as_long_as_water_flowed_in_it_and_is_known_until_the_next_begins() -> None:
    run = Run()
    assert run.step(False).run_flow_s == 0.0
    for _ in range(61):
        facts = run.step(True)
    assert facts.run_flow_s == 600.0
    rested = [run.step(False) for _ in range(100)]
    assert all(600.0 <= facts.run_flow_s <= 610.0 for facts in rested)
    assert run.step(True).run_flow_s == 0.0
    assert [run.step(True, flows=False).run_flow_s for _ in range(3)] == [0.0, 0.0, 0.0]


def test_after_a_restart_the_last_run_has_no_known_length() -> None:
    run = Run()
    for _ in range(61):
        run.step(True)
    run.step(False)
    restored = run.traces[CELL]
    run.traces = {**run.traces, CELL: FeederTrace(CELL, restored.ran_s, restored.ran_flow_s)}
    facts = run.step(False)
    assert facts.ran_flow_s is not None
    assert facts.run_flow_s == 0.0
