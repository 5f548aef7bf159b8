"""Single faults in the closed loop: the water stays within harm bounds, the right thing stops or falls back, somebody is told,
and, the fault gone, it feeds again. Bounds: free chlorine 10 mg/L, pH 6.5 to 8.5 through our own feeding."""

from collections.abc import Callable
from dataclasses import dataclass, field

import pytest

from dosectl.model.feeds import FeedOn, Substance
from dosectl.model.verdicts import Denial
from dosectl.pool_model.plant import PoolPlant
from dosectl.pool_model.scenarios import QUINCE_HOUSE_START, quince_house
from dosectl.rehearsal.loop import ClosedLoop, demo_loaded

STEP_S = 10.0  # feeds end within a step of the loop: short, so that the node's expiry is no part of what is judged


@dataclass
class Seen:
    """What a run showed: guards that denied and alarms raised, by when; masses fed; extremes of the true water."""

    denied: dict[str, float] = field(default_factory=dict)
    alarms: dict[str, float] = field(default_factory=dict)
    fallback: bool = False
    free: list[float] = field(default_factory=list)
    ph: list[float] = field(default_factory=list)
    chlorine_steps: int = 0
    acid_steps: int = 0
    together: int = 0


def run(loop: ClosedLoop, hours: float) -> Seen:
    seen = Seen()
    passed = 0.0
    for moment in loop.run(hours):
        passed += STEP_S
        decision = moment.decision
        for verdicts in decision.objections.values():
            for verdict in verdicts:
                if isinstance(verdict, Denial):
                    seen.denied.setdefault(str(verdict.guard), passed)
        for change in decision.alarms:
            if change.change == "raised":
                seen.alarms.setdefault(str(change.code), passed)
        on = [c.feeder for c in decision.commands if isinstance(c, FeedOn)]
        substances = {loop.plan.site.feeder(feeder).substance for feeder in on}
        seen.chlorine_steps += Substance.CHLORINE in substances
        seen.acid_steps += Substance.ACID in substances
        seen.together += len(substances) > 1
        seen.fallback = seen.fallback or decision.control.fallback
        seen.free.append(moment.truth.free_chlorine_mg_l)
        seen.ph.append(moment.truth.ph)
    return seen


def a_loop(hypochlorite: bool = False) -> ClosedLoop:
    plant = PoolPlant(quince_house(hypochlorite), QUINCE_HOUSE_START, 7)
    loop = ClosedLoop.of(demo_loaded(hypochlorite), plant, step_s=STEP_S, use_mg_l_day=2.4)
    for quantity in ("free_chlorine", "ph"):
        loop.water_test(quantity, "drops")
    loop.ask("refill", (("feeder", "acid"), ("container_ml", 5000.0)))
    return loop


def within_bounds(seen: Seen) -> None:
    assert max(seen.free) <= 10.0
    assert min(seen.ph) >= 6.5
    assert max(seen.ph) <= 8.5
    assert seen.together == 0


Expect = Callable[[Seen], None]


def stops_all(guard: str) -> Expect:
    def check(seen: Seen) -> None:
        assert guard in seen.denied, sorted(seen.denied)
        assert seen.chlorine_steps == 0
        assert seen.acid_steps == 0

    return check


def falls_back(seen: Seen) -> None:
    assert seen.fallback
    assert seen.chlorine_steps > 0, "a pool left dead is a hazard too"


def falls_back_without_acid(seen: Seen) -> None:
    falls_back(seen)
    assert seen.acid_steps == 0


def acid_waits_and_chlorine_goes_on(seen: Seen) -> None:
    assert seen.acid_steps == 0
    assert seen.chlorine_steps > 0


CASES: dict[str, tuple[float, str | None, Expect]] = {
    # fault: (hours, alarm that must be raised, what else must hold)
    "flow_lost": (3.0, "flow.lost", stops_all("flow.proven")),
    "pump_off": (3.0, None, stops_all("flow.proven")),
    "orp_dead": (8.0, "water.fallback", falls_back),
    "ph_dead": (8.0, "probe.failure", acid_waits_and_chlorine_goes_on),  # reads about 7: plausible, and never a ground for acid
    "probes_swapped": (8.0, "probe.failure", falls_back_without_acid),
}


@pytest.mark.parametrize("fault", list(CASES))
def test_a_fault_is_met_and_its_end_lets_the_pool_live(fault: str) -> None:
    hours, alarm, expect = CASES[fault]
    loop = a_loop()
    run(loop, 1.0)
    loop.plant.set_fault(fault, True)
    settling = run(loop, 0.05)
    seen = run(loop, hours)
    within_bounds(seen)
    expect(seen)
    raised = {**settling.alarms, **seen.alarms}
    assert alarm is None or alarm in raised, sorted(raised)
    loop.plant.set_fault(fault, False)
    after = run(loop, 26.0)
    within_bounds(after)
    assert after.chlorine_steps > 0
    assert after.acid_steps > 0


def test_an_acid_feeder_that_sticks_on_is_seen_locked_and_called() -> None:
    loop = a_loop()
    run(loop, 1.0)
    loop.plant.set_fault("acid_feeder_stuck_on", True)
    seen = run(loop, 0.5)
    assert "feeder.runs.acid" in seen.denied
    assert seen.denied["feeder.runs.acid"] <= 60.0
    assert "feed.runs_though_off" in seen.alarms
    assert seen.chlorine_steps == 0, "nothing else is fed beside a feeder that can't be stopped"
    booked = loop.state.durable.ledger.of(loop.plan.site.feeding(Substance.ACID)[0])
    assert booked.total_g > 0.0, "what runs unasked is booked all the same"


def test_a_blink_of_flow_between_two_steps_is_seen() -> None:
    loop = a_loop()
    run(loop, 1.0)
    loop.plant.set_fault("flow_lost", True)
    loop.one()
    loop.plant.set_fault("flow_lost", False)
    seen = run(loop, 0.1)
    assert "flow.proven" in seen.denied


def test_a_tablet_left_in_the_skimmer_is_not_fed_against() -> None:
    loop = a_loop()
    run(loop, 2.0)
    loop.plant.set_fault("tablet_left_in", True)
    seen = run(loop, 60.0)
    assert max(seen.free) <= 10.0
    late = run(loop, 12.0)
    assert late.chlorine_steps <= seen.chlorine_steps


def test_a_closed_cover_with_the_old_demand_does_not_overdose() -> None:
    loop = a_loop()
    run(loop, 2.0)
    loop.plant.set_fault("cover_closed", True)
    within_bounds(run(loop, 72.0))
