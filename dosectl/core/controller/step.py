"""One step: what arrived becomes evidence, evidence becomes wishes, guards judge them, and one command per feeder goes out.

The order is the picture in DEVELOPERS.md. Nothing here knows a number of the trade: each room has its own.
"""

from collections.abc import Mapping
from dataclasses import replace

from dosectl.core.alarms.calls import calls
from dosectl.core.alarms.states import AlarmView
from dosectl.core.alarms.states import update as update_alarms
from dosectl.core.control.wishes import wishes
from dosectl.core.controller.asked import answered, asked, present
from dosectl.core.controller.barred import barred
from dosectl.core.controller.beside import watched
from dosectl.core.controller.changes import Changed
from dosectl.core.controller.decision import Decision, StepResult
from dosectl.core.controller.dispensing import begun, going_on, wish_for
from dosectl.core.controller.facts import feeder_facts, flow_facts, numbered
from dosectl.core.controller.foretelling import foretold
from dosectl.core.controller.plan import Plan
from dosectl.core.controller.state import Clocks, Durable, State, Working
from dosectl.core.controller.tell import events_of
from dosectl.core.controller.uses import count, opened
from dosectl.core.estimate.filter import update as update_estimate
from dosectl.core.estimate.rest import rested
from dosectl.core.estimate.state import EstimateInputs
from dosectl.core.estimate.view import water
from dosectl.core.evidence import Evidence, Standing, StartFacts
from dosectl.core.interlocks.arbiter import decide, judge
from dosectl.core.interlocks.dispatch import draw
from dosectl.core.interlocks.guard import Memory
from dosectl.core.interlocks.latches import mute
from dosectl.core.probes.intake import Judged
from dosectl.core.probes.intake import update as update_probes
from dosectl.core.probes.renewed import new_probes
from dosectl.core.product import arriving_share, renewed_chlorine, with_ages
from dosectl.core.site import Site
from dosectl.model.absences import lasting
from dosectl.model.feeds import FeederId, Substance
from dosectl.model.ledger import Ledger
from dosectl.model.signals import SignalId, SignalKind, Status
from dosectl.model.snapshot import Snapshot

REPLIES_KEPT = 200
FRESH_ENOUGH = 1000  # counting on would only make the map change


def step(plan: Plan, state: State, snapshot: Snapshot) -> StepResult:
    """The state after this snapshot and what follows from it. Same inputs, same outputs, bit for bit."""
    durable, working, site = state.durable, state.working, plan.site
    dt_s = max(0.0, snapshot.now.since_s(working.last))
    clock_s = durable.clocks.clock_s + dt_s
    jump_s = (snapshot.now.utc - working.last.utc).total_seconds() - dt_s

    judged = update_probes(site, plan.probes, working.probes, snapshot, clock_s)
    standing = present(site, working, durable.standing, judged, clock_s)
    changed, replies = asked(plan, state, standing, snapshot, clock_s)
    flow, flow_trace = flow_facts(
        site, judged.readings, judged.samples, working.flow, durable.clocks.flow_clock_s, snapshot.now, clock_s, dt_s
    )
    feeders, traces = feeder_facts(
        site, judged.readings, snapshot.nodes, working.dispatch, working.feeders, flow.clock_s, snapshot.now, clock_s, dt_s
    )
    running = {feeder: facts.running for feeder, facts in feeders.items()}
    ledger, fed_g = _drawn(site, working, running, clock_s - dt_s, clock_s, durable, standing)
    fresh = _fresh(working.fresh, judged)
    dispense = begun(site, changed.dispense, ledger, clock_s) if changed.dispense else working.dispense
    dispense = going_on(dispense, site, ledger, clock_s)
    evidence = Evidence(
        site=site,
        now=snapshot.now,
        clock_s=clock_s,
        clock_jump_s=jump_s,
        readings=judged.readings,
        samples=judged.samples,
        drops=judged.drops,
        flow=flow,
        feeders=feeders,
        ledger=ledger,
        tests=tuple(test for test in changed.tests if not test.withdrawn),
        standing=changed.standing,
        start=StartFacts(working.started_s, working.clean, durable.clocks.starts_s, fresh, working.started_flow_s),
        health=snapshot.health,
        foreign=snapshot.foreign,
        dispense=dispense.feeder if dispense else None,
        beside=durable.beside,
    )
    silent = mute(plan.guards, changed.memories)
    evidence, gathering, settled = watched(evidence, bool(changed.added), silent, working.gathering, durable.settled)
    believed = replace(evidence, mute=silent) if silent else evidence

    estimate, due_s = durable.estimate, working.estimate_due_s
    view = working.view
    if opened(durable.standing, changed.standing, snapshot.now):
        estimate = rested(site, plan.estimate, estimate)
    compared = foretold(durable.foretold, changed, view, durable.standing, clock_s)
    fresh_product = renewed_chlorine(site, durable.standing, changed.standing)
    new, checked = new_probes(site, durable.standing, changed.standing)
    news = changed.added or changed.withdrawn or changed.additions or fresh_product or new or checked
    if view is None or clock_s >= due_s or news:
        inputs = replace(_inputs(believed, estimate.updated_s, fed_g, changed, fresh_product), replaced=new, checked=checked)
        estimate = update_estimate(site, plan.estimate, estimate, inputs)
        due_s, fed_g = clock_s + plan.estimate.period_s, {}
        view = water(site, estimate, plan.estimate)

    granted = tuple(feeder for feeder, asked in working.dispatch.items() if asked.asked_on)
    limits = tuple(working.objections.items())
    waiting = frozenset(bar.feeder for bar in durable.barred if bar.rate_mg_l_day is None)
    wanted, control, control_view = wishes(site, plan.control, working.control, view, believed, granted, limits, waiting)
    objections, memories = judge(plan.guards, evidence, changed.memories)
    idle = dict(control_view.feeders)
    if dispense is not None:
        wish, beside = wish_for(dispense, evidence)
        wanted, idle = (wish,), {**idle, **beside}
    ruling = decide(site, evidence, objections, wanted, idle, numbered(working.dispatch, feeders), ledger)

    days, standing = count(durable.days, changed.standing, evidence, objections, dt_s)
    standing = with_ages(site, _fallback(standing, control_view.fallback, clock_s), clock_s, estimate.temp_c)
    alarms, alarm_changes = update_alarms(
        plan.alarms,
        durable.alarms,
        AlarmView(
            *(evidence, objections, view, control_view.target_mg_l),
            fallback=control_view.fallback and not control_view.unsure,
            unsure=control_view.unsure,
            foretold=compared,
            away=lasting(changed.absences) is not None,
            unable=plan.unable,
        ),
        changed.answers,
        changed.acts,
    )
    called = calls(alarm_changes, alarms, snapshot.now, clock_s)
    if called.memory is not alarms.calls:
        alarms = replace(alarms, calls=called.memory)
    replies = answered(replies, changed, memories)
    bars, denied_s = barred(durable.barred, working.denied_s, objections, clock_s, flow.clock_s)
    told, events = events_of(working.told, evidence, ruling.commands, objections, snapshot)

    after = Durable(
        clocks=Clocks(
            clock_s,
            flow.clock_s,
            durable.clocks.starts_s,
            max(d.command_no for d in ruling.dispatch),
            evidence.health.clock_trusted,
        ),
        ledger=ruling.ledger,
        memories=_kept(durable.memories, working.memories, memories),
        standing=standing,
        tests=changed.tests,
        estimate=estimate,
        alarms=alarms,
        days=days,
        habit=control.habit,
        replies=(*durable.replies, *replies)[-REPLIES_KEPT:] if replies else durable.replies,
        absences=changed.absences,
        foretold=compared,
        barred=bars,
        beside=evidence.beside,
        settled=settled,
    )
    next_working = replace(
        working,
        last=snapshot.now,
        probes=judged.memory,
        control=control,
        flow=flow_trace,
        feeders=traces,
        dispatch={item.feeder: item for item in ruling.dispatch},
        memories=memories,
        objections=objections,
        fresh=fresh,
        fed_g=fed_g,
        told=told,
        estimate_due_s=due_s,
        view=view,
        dispense=dispense,
        denied_s=denied_s,
        gathering=gathering,
    )
    at_once = bool(
        ruling.opened
        or replies
        or alarm_changes
        or called.calls
        or changed.added
        or after.absences is not durable.absences
        or after.memories is not durable.memories
        or ruling.ledger.next_no != durable.ledger.next_no
    )
    decision = Decision(
        commands=ruling.commands,
        objections=objections,
        opened=ruling.opened,
        replies=replies,
        alarms=alarm_changes,
        events=events,
        evidence=evidence,
        water=view,
        control=control_view,
        at_once=at_once,
        wake_in_s=min(1.0, site.renew_s),
        calls=called.calls,
    )
    return State(after, next_working), decision


def _drawn(
    site: Site,
    working: Working,
    running: Mapping[FeederId, bool | None],
    from_s: float,
    now_s: float,
    durable: Durable,
    standing: Standing,
) -> tuple[Ledger, Mapping[Substance, float]]:
    """The ledger brought up to now, and the mass since the last estimate [g] per substance: what arrives of it."""
    ledger = durable.ledger
    fed: dict[Substance, float] | None = None
    for feeder in site.feeders:
        asked = working.dispatch[feeder.id]
        shown = running[feeder.id]
        if shown is False and not asked.asked_on and asked.since_s < from_s:
            # It still ran at the last wake although it had been asked off: an OFF was lost, and it ended somewhere since.
            shown = working.feeders[feeder.id].feedback_on_since_s is not None
        ledger, mass_g = draw(feeder, asked, shown, from_s, now_s, ledger)
        if mass_g > 0.0:
            fed = dict(working.fed_g) if fed is None else fed
            arrived_g = mass_g * arriving_share(feeder, standing, now_s, durable.estimate.temp_c)
            fed[feeder.substance] = fed.get(feeder.substance, 0.0) + arrived_g
    return ledger, working.fed_g if fed is None else fed


def _fresh(before: Mapping[SignalId, int], judged: Judged) -> Mapping[SignalId, int]:
    """Usable samples per signal since the start."""
    after: dict[SignalId, int] | None = None
    for sample in judged.samples:
        count_before = (after or before).get(sample.signal, 0)
        if count_before < FRESH_ENOUGH and judged.readings[sample.signal].status <= Status.OUT_OF_SPEC:
            after = dict(before) if after is None else after
            after[sample.signal] = count_before + 1
    return before if after is None else after


def _inputs(
    evidence: Evidence, updated_s: float | None, fed_g: Mapping[Substance, float], changed: Changed, renewed: bool
) -> EstimateInputs:
    """What the estimate is told: readings that may be believed, and what was fed since it last asked."""
    flow = evidence.flow
    ph = evidence.reading(SignalKind.PH)
    cover = evidence.reading(SignalKind.COVER)
    light_percent = evidence.followed(SignalKind.SUNLIGHT)
    return EstimateInputs(
        clock_s=evidence.clock_s,
        utc=evidence.now.utc,
        dt_s=0.0 if updated_s is None else max(0.0, evidence.clock_s - updated_s),
        orp_mv=evidence.followed(SignalKind.ORP),
        ph=evidence.followed(SignalKind.PH),
        ph_sigma=ph.sigma if ph is not None and ph.sigma is not None else 0.05,
        temp_c=evidence.followed(SignalKind.WATER_TEMP),
        flow_proven_for_s=0.0 if flow.since_s is None else evidence.clock_s - flow.since_s,
        fed=tuple((substance, grams / evidence.site.pool.volume_m3) for substance, grams in fed_g.items()),
        new_tests=(*changed.added, *(test for test in changed.tests if test.withdrawn)) if changed.withdrawn else changed.added,
        additions=changed.additions,
        cover_closed=None if cover is None else cover.switch(),
        light_share=None if light_percent is None else light_percent / 100.0,
        renewed=renewed,
        salt_g_l=evidence.followed(SignalKind.SALT) if _salt_stays(evidence.site) else None,
    )


def _salt_stays(site: Site) -> bool:
    """Whether only exchanged water takes salt away and only a person adds it: hypochlorite brings salt of its own."""
    return all(feeder.kind == "cell" for feeder in site.feeders if feeder.substance is Substance.CHLORINE)


def _fallback(standing: Standing, fallback: bool, clock_s: float) -> Standing:
    """Since when chlorine has been on fall-back: its rate falls with age."""
    if fallback and standing.fallback_since_s is None:
        return replace(standing, fallback_since_s=clock_s)
    if not fallback and standing.fallback_since_s is not None:
        return replace(standing, fallback_since_s=None)
    return standing


def _kept(
    before: tuple[tuple[str, Memory], ...], was: Mapping[str, Memory], now: Mapping[str, Memory]
) -> tuple[tuple[str, Memory], ...]:
    """The durable side of the guards' memories: the same object as before unless a latch, count or mark changed."""
    if all(memory is was.get(key) for key, memory in now.items()):
        return before
    durable = {key: memory.restarted() for key, memory in now.items() if memory.latched or memory.count or memory.marks}
    return before if durable == dict(before) else tuple(durable.items())
