"""The first state of a run, from nothing or from the journal. Working parts are always new: the start-up hold covers them."""

from collections.abc import Mapping
from dataclasses import dataclass, replace

from dosectl.core.alarms.states import AlarmMemory
from dosectl.core.control.habit import FlowHabit
from dosectl.core.control.state import ControlState
from dosectl.core.controller.facts import FeederTrace, FlowTrace
from dosectl.core.controller.plan import Plan
from dosectl.core.controller.state import Clocks, Durable, State, Working
from dosectl.core.controller.uses import DayCount
from dosectl.core.estimate.begin import start as start_estimate
from dosectl.core.evidence import Standing
from dosectl.core.interlocks.dispatch import Dispatch
from dosectl.core.interlocks.inheriting import inherited
from dosectl.core.probes.memory import ProbeMemory
from dosectl.core.site import Site
from dosectl.model.feeds import FeederId
from dosectl.model.instant import Instant
from dosectl.model.ledger import FeederLedger, Ledger

STARTS_WINDOW_S = 6 * 3600.0
LEDGER_KEPT_S = 180 * 86400.0  # acid since the last alkalinity test and a container since its refill are asked for over months
NUMBERS_LOST = 1000  # more than a crash can have kept from the record, which is written every few seconds


@dataclass(frozen=True, slots=True)
class StartOf:
    """How a run starts.

    now : the first instant; off_s : trusted seconds since the last commit of the run before, 0 where the clock is in doubt
    clean : the run before ended in order; an absent journal counts as clean
    """

    now: Instant
    off_s: float
    clean: bool


def fresh_durable(plan: Plan) -> Durable:
    """Nothing known yet but the plan."""
    return Durable(
        clocks=Clocks(),
        ledger=Ledger(tuple(FeederLedger(feeder.id, substance=feeder.substance) for feeder in plan.site.feeders)),
        memories=(),
        standing=Standing(),
        tests=(),
        estimate=start_estimate(plan.site, plan.estimate),
        alarms=AlarmMemory(),
        days=DayCount(),
        habit=FlowHabit.assumed(plan.site.pool.longitude_deg),
    )


def require_same_substances(site: Site, ledger: Ledger) -> None:
    """Raises ValueError where a feeder has a name under which another substance was fed: a name stands for one for ever."""
    for name, fed in ledger.misnamed({feeder.id: feeder.substance for feeder in site.feeders}):
        raise ValueError(
            f'the record has fed {fed.value} under the name "{name}", and the settings give it to another substance: '
            f"give the new feeder a name of its own; the record goes on counting the old one"
        )


def _ledger_for(site: Site, ledger: Ledger, clock_s: float) -> Ledger:
    """The kept ledger with an entry for every feeder of the plan; feeders that left the plan keep theirs. It never resets.

    A reservation left open by a crash is booked in full. Raises ValueError as `require_same_substances` does.
    """
    require_same_substances(site, ledger)
    known = {entry.feeder for entry in ledger.feeders}
    feeds = {feeder.id: feeder.substance for feeder in site.feeders}
    new = tuple(FeederLedger(feeder.id, substance=feeder.substance) for feeder in site.feeders if feeder.id not in known)
    kept = (replace(entry, substance=feeds.get(entry.feeder, entry.substance)) for entry in ledger.feeders)
    closed = tuple(entry.closed(clock_s, None).forgetting(clock_s - LEDGER_KEPT_S) for entry in kept)
    return Ledger((*closed, *new), ledger.next_no)


def _traces(site: Site, ledger: Ledger, flow_clock_s: float) -> Mapping[FeederId, FeederTrace]:
    """When each feeder ran last, from the ledger; its flow time counts from now, so that spacing proves anew."""
    traces: dict[FeederId, FeederTrace] = {}
    for feeder in site.feeders:
        last_s = ledger.of(feeder.id).last_fed_s()
        traces[feeder.id] = FeederTrace(feeder.id, last_s, None if last_s is None else flow_clock_s)
    return traces


def begin(plan: Plan, kept: Durable | None, start: StartOf) -> State:
    """The state before the first step of a run. Raises ValueError where a name that fed one substance is to feed another."""
    durable = kept if kept is not None else fresh_durable(plan)
    # A record that never was has given no number: whatever a node has obeyed of ours shows that there was one.
    first_no = durable.clocks.command_no + (NUMBERS_LOST if kept is not None else 0)
    clocks = durable.clocks
    clock_s = clocks.clock_s + (max(0.0, start.off_s) if clocks.utc_trusted else 0.0)
    starts = (*(s for s in clocks.starts_s if clock_s - s < STARTS_WINDOW_S), clock_s)
    ledger = _ledger_for(plan.site, durable.ledger, clock_s)
    memories = inherited(plan.guards, {key: memory.restarted() for key, memory in durable.memories})
    durable = replace(
        durable, clocks=replace(clocks, clock_s=clock_s, starts_s=starts), ledger=ledger, memories=tuple(memories.items())
    )
    working = Working(
        last=start.now,
        started_s=clock_s,
        started_flow_s=clocks.flow_clock_s,
        clean=start.clean,
        probes=ProbeMemory(),
        control=ControlState(habit=durable.habit),
        flow=FlowTrace(),
        feeders=_traces(plan.site, ledger, clocks.flow_clock_s),
        dispatch={f.id: Dispatch(f.id, since_s=clock_s, command_no=first_no) for f in plan.site.feeders},
        memories=memories,
        objections={},
        fresh={},
        fed_g={},
        estimate_due_s=clock_s,
    )
    return State(durable, working)
