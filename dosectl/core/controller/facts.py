"""From readings, edges and reports to the facts that evidence carries: is flow proven, what may each feeder have done."""

from collections.abc import Mapping
from dataclasses import dataclass, replace

from dosectl.core.evidence import FeederFacts, FlowFacts
from dosectl.core.interlocks.dispatch import Dispatch, may_have_run_s
from dosectl.core.site import Feeder, Signal, Site
from dosectl.model.feeds import FeederId
from dosectl.model.instant import Instant
from dosectl.model.signals import NodeId, NodeReport, Reading, Sample, SignalId, SignalKind, Status

SILENCE_S = 90.0
"""Between two messages, with no step in between to find the first one too old: what flowed in so much is a small part of every
wait that counts by flow. Simulated loops step by a minute."""


@dataclass(frozen=True, slots=True)
class FlowTrace:
    """Working memory of flow: since when it is proven, when its signals were heard last, and the last edges of the pump."""

    proven_since_s: float | None = None
    heard_s: tuple[tuple[SignalId, float], ...] = ()
    pump_on: bool | None = None
    pump_started_s: float | None = None
    pump_stopped_s: float | None = None


def _went_false(signal: Signal, samples: tuple[Sample, ...]) -> bool:
    """Whether any sample since the last step took the signal's permission away, however briefly."""
    return any(sample.raw is False and sample.signal == signal.id for sample in samples)


def _silence_s(signal: Signal, samples: tuple[Sample, ...], heard_s: float | None, now: Instant, clock_s: float) -> float:
    """The longest time without a message of this signal since it was heard last, up to its newest one. [s]"""
    if heard_s is None:
        return 0.0
    longest = 0.0
    for sample in samples:
        if sample.signal == signal.id:
            at_s = clock_s - max(0.0, now.since_s(sample.arrived_at))
            longest, heard_s = max(longest, at_s - heard_s), at_s
    return longest


def flow_facts(
    site: Site,
    readings: Mapping[SignalId, Reading],
    samples: tuple[Sample, ...],
    trace: FlowTrace,
    flow_clock_s: float,
    now: Instant,
    clock_s: float,
    dt_s: float,
) -> tuple[FlowFacts, FlowTrace]:
    """Flow as all its evidence shows it, and the trace after this step.

    `flow_clock_s` is the durable count of seconds of proven flow before this step; the step's `dt_s` is added only where flow
    was proven at both ends. After a silence that no reading outlasts (the machine slept) flow is proven anew, and none counts.
    """
    sources = (*site.of_kind(SignalKind.FLOW), *site.of_kind(SignalKind.PUMP))
    heard_s = dict(trace.heard_s)
    silent = any(
        _silence_s(source, samples, heard_s.get(source.id), now, clock_s) > max(SILENCE_S, source.age_s_max, site.expires_s)
        for source in sources
    )
    if silent:
        trace = replace(trace, proven_since_s=None)
    proven = bool(sources)
    broken = False
    for source in sources:
        state = readings[source.id].switch() if source.id in readings else None
        dipped = _went_false(source, samples)
        proven = proven and state is True and not dipped
        broken = broken or state is False or dipped
    pump = site.first(SignalKind.PUMP)
    pump_on = readings[pump.id].switch() if pump is not None and pump.id in readings else None
    spoke = tuple((s.id, at_s) for s in sources if s.id in readings and (at_s := readings[s.id].at_s) is not None)
    after = trace if spoke == trace.heard_s else replace(trace, heard_s=spoke)
    if pump_on is not None and pump_on is not trace.pump_on:
        started = clock_s if pump_on else trace.pump_started_s
        stopped = clock_s if not pump_on and trace.pump_on is not None else trace.pump_stopped_s
        after = replace(after, pump_on=pump_on, pump_started_s=started, pump_stopped_s=stopped)
    since_s = trace.proven_since_s if proven and trace.proven_since_s is not None else (clock_s if proven else None)
    if since_s != trace.proven_since_s:
        after = replace(after, proven_since_s=since_s)
    grown_s = flow_clock_s + (dt_s if proven and trace.proven_since_s is not None else 0.0)
    return FlowFacts(proven, broken, since_s, grown_s, after.pump_started_s, after.pump_stopped_s), after


@dataclass(frozen=True, slots=True)
class FeederTrace:
    """Working memory of one feeder: when it may have run last, and since when its feedback shows it running.

    ran_s, ran_flow_s are restored from the ledger at a start, so that spacing survives a restart; run_from_flow_s, the flow clock
    at which that run began, is not.
    """

    feeder: FeederId
    ran_s: float | None = None
    ran_flow_s: float | None = None
    feedback_on_since_s: float | None = None
    node: NodeReport | None = None
    node_at_s: float | None = None
    run_from_flow_s: float | None = None
    runs: bool = False


def _feedback(feeder: Feeder, readings: Mapping[SignalId, Reading], asked: Dispatch) -> bool | None:
    """What the feedback shows. "Off" from before the last change of mind proves nothing of what ran since, so it is unknown."""
    if feeder.feedback is None:
        return None
    reading = readings.get(feeder.feedback)
    if reading is None:
        return None
    shown = reading.switch(Status.MAINTENANCE)
    stale = not asked.asked_on and (reading.at_s is None or reading.at_s <= asked.since_s)
    return None if shown is False and stale else shown


def numbered(dispatch: Mapping[FeederId, Dispatch], feeders: Mapping[FeederId, FeederFacts]) -> Mapping[FeederId, Dispatch]:
    """What was asked, its numbers above those that the nodes have obeyed: a node takes no older one, and a record may be lost."""
    ahead = {feeder: facts.node_no for feeder, facts in feeders.items() if (facts.node_no or 0) > facts.command_no}
    if not ahead:
        return dispatch
    return {feeder: replace(asked, command_no=ahead.get(feeder) or asked.command_no) for feeder, asked in dispatch.items()}


def feeder_facts(
    site: Site,
    readings: Mapping[SignalId, Reading],
    reports: tuple[NodeReport, ...],
    dispatch: Mapping[FeederId, Dispatch],
    traces: Mapping[FeederId, FeederTrace],
    flow_clock_s: float,
    now: Instant,
    clock_s: float,
    dt_s: float,
) -> tuple[dict[FeederId, FeederFacts], dict[FeederId, FeederTrace]]:
    """What was asked of each feeder and what it shows, and the traces after this step."""
    newest: dict[NodeId, NodeReport] = {report.node: report for report in reports}
    facts: dict[FeederId, FeederFacts] = {}
    after: dict[FeederId, FeederTrace] = {}
    for feeder in site.feeders:
        asked = dispatch[feeder.id]
        trace = traces[feeder.id]
        running = _feedback(feeder, readings, asked)
        on_since = (trace.feedback_on_since_s if trace.feedback_on_since_s is not None else clock_s) if running else None
        ran_s, ran_flow_s, from_flow_s = trace.ran_s, trace.ran_flow_s, trace.run_from_flow_s
        runs = bool(running) or asked.asked_on or may_have_run_s(feeder, asked, running, clock_s - dt_s, clock_s) > 0.0
        if runs:
            ran_s, ran_flow_s = clock_s, flow_clock_s
            from_flow_s = from_flow_s if trace.runs else flow_clock_s
        node, node_at_s = trace.node, trace.node_at_s
        if feeder.node is not None and feeder.node in newest:
            node = newest[feeder.node]
            node_at_s = clock_s - max(0.0, now.since_s(node.arrived_at))
        after[feeder.id] = FeederTrace(feeder.id, ran_s, ran_flow_s, on_since, node, node_at_s, from_flow_s, runs)
        facts[feeder.id] = FeederFacts(
            feeder=feeder.id,
            asked_on=asked.asked_on and clock_s < asked.expires_at_s,
            asked_on_since_s=asked.since_s if asked.asked_on else None,
            asked_off_since_s=None if asked.asked_on else asked.since_s,
            running=running,
            ran_s=ran_s,
            ran_flow_s=ran_flow_s,
            feedback_on_since_s=on_since,
            node=node,
            node_age_s=None if node_at_s is None else clock_s - node_at_s,
            life_ends_s=asked.expires_at_s if asked.expires_at_s > 0.0 else None,
            command_no=asked.command_no,
            run_flow_s=0.0 if ran_flow_s is None or from_flow_s is None else max(0.0, ran_flow_s - from_flow_s),
            node_no=None if node is None or node.owner != site.ident else dict(node.numbers).get(feeder.id),
        )
    return facts, after
