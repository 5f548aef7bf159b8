"""One step of control: which pulse would we like to run now?

Regulates only when its period is due, or flow came or went; in between a pulse under way repeats its wish with the mass that is
still missing by the ledger. Nothing here permits anything: the arbiter is the last word.
"""

from dataclasses import dataclass, replace

from dosectl.core.control import reasons
from dosectl.core.control.acid import acid_pulses
from dosectl.core.control.demand import Plan, flow_wanted_h, plan, with_light
from dosectl.core.control.fallback import reserve, tested_lately, with_readings_watched
from dosectl.core.control.habit import FlowHabit
from dosectl.core.control.params import ControlParams
from dosectl.core.control.pulses import DONE_S, Order, cut_short, left_g, longest_g, ordered, owing, steady_g_s, withdrawn
from dosectl.core.control.reasons import FeederReasons, kept_since, now_because, of_feeder
from dosectl.core.control.regulators import trim
from dosectl.core.control.sharing import Limits, denied_by, held_back, shares, turn_cut, turn_left_s
from dosectl.core.control.sharing import room_g as left_by_guards_g
from dosectl.core.control.state import ControlState, ControlView
from dosectl.core.control.target import Target, target
from dosectl.core.estimate import WaterView
from dosectl.core.evidence import Evidence
from dosectl.core.product import arriving_share
from dosectl.core.site import Feeder, Site
from dosectl.model.feeds import FeederId, Origin, Substance, Wish
from dosectl.model.reasons import Reason, ReasonKind

TRIM_SHARE, TRIM_LEAST_MG_L_H = 0.5, 0.05  # of the feed-forward; own judgement
MORE_THAN_USUAL = 1.3  # of the usual use, where a growing demand is followed by hand tests alone
ARRIVES_LEAST, ARRIVES_MOST = 0.3, 1.3  # beyond it the settings are wrong, and somebody is called


@dataclass(frozen=True, slots=True)
class Scene:
    """All that one regulation looks at. `dt_s` since the last one, bounded; `goal` today's target; `lasting` as for `wishes`."""

    site: Site
    params: ControlParams
    water: WaterView
    evidence: Evidence
    granted: tuple[FeederId, ...]
    limits: Limits
    goal: Target
    dt_s: float
    lasting: frozenset[FeederId] = frozenset()


def wishes(
    site: Site,
    params: ControlParams,
    state: ControlState,
    water: WaterView,
    evidence: Evidence,
    granted: tuple[FeederId, ...],
    limits: Limits,
    lasting: frozenset[FeederId] = frozenset(),
) -> tuple[tuple[Wish, ...], ControlState, ControlView]:
    """What control would like to feed now.

    granted : feeders that were granted a feed at the last step; limits : each feeder's verdicts of the last step
    lasting : feeders that a guard has denied for long
    Returns at most one wish a feeder (never of chlorine and acid together), the new state, and the view.
    """
    view = state.view
    due_s = state.due_s
    if view is None or due_s is None or evidence.clock_s >= due_s or evidence.flow.proven != state.flow_proven:
        state, view = _regulate(site, params, state, water, evidence, granted, limits, lasting)
    if not state.pulses:
        return (), state, view
    running: list[Wish] = []
    for pulse in state.pulses:
        left = left_g(pulse, evidence.ledger)
        if left <= DONE_S * pulse.level * site.feeder(pulse.feeder).rate_g_s:
            state = replace(state.without_pulse(pulse.feeder), due_s=evidence.clock_s)
        else:
            running.append(Wish(pulse.feeder, pulse.origin, pulse.level, left, pulse.why))
    return tuple(running), state, view


def _regulate(
    site: Site,
    params: ControlParams,
    state: ControlState,
    water: WaterView,
    evidence: Evidence,
    granted: tuple[FeederId, ...],
    limits: Limits,
    lasting: frozenset[FeederId],
) -> tuple[ControlState, ControlView]:
    clock_s, flowing = evidence.clock_s, evidence.flow.proven
    since_s = params.period_s if state.updated_s is None else clock_s - state.updated_s
    dt_s = min(2.0 * params.period_s, max(0.0, since_s))
    if not flowing and not state.flow_proven and state.view is not None and evidence.now.utc.hour == state.habit.hour:
        # Through a pause nothing is decided; once an hour the view is made anew.
        return replace(
            state, habit=_watched(state, evidence, dt_s), due_s=clock_s + params.period_s, updated_s=clock_s
        ), state.view
    scene = Scene(site, params, water, evidence, granted, limits, target(site, params, water, evidence), dt_s, lasting)
    habit = _watched(state, evidence, dt_s)
    state = with_readings_watched(params, with_light(site, state, evidence), water, evidence)
    ahead = plan(state, water, scene.goal, evidence)
    rate = 0.0
    if not flowing:
        state, given = _at_rest(scene, state, reasons.NO_FLOW)
    elif evidence.health.clock_trusted and habit.stops_soon(evidence.now.utc):
        state, given = _at_rest(scene, state, reasons.PUMP_STOPS)
    else:
        state, acid = acid_pulses(site, params, state, water, evidence, granted, limits)
        state, chlorine, rate = _chlorine(scene, state, ahead)
        given = (*chlorine, *acid)
    before = state.view.feeders if state.view is not None else ()
    why = kept_since(scene.goal.why, state.view.target_why if state.view is not None else None)
    view = ControlView(
        target_mg_l=scene.goal.mg_l,
        band_low_mg_l=scene.goal.low_mg_l,
        band_high_mg_l=scene.goal.high_mg_l,
        aim_mg_l=ahead.aim_mg_l,
        target_why=why,
        feeders=tuple((feeder, kept_since(reason, of_feeder(before, feeder))) for feeder, reason in given),
        demand_mg_l_day=ahead.day_mg_l,
        planned_today_mg_l=rate * ahead.window_h,
        flow_wanted_h=flow_wanted_h(site, params, ahead.day_mg_l, _arriving_g_s(scene)),
        fallback=state.fallback_why is not None,
        fallback_why=state.fallback_why,
    )
    # One replacement for all that changes every time: a season is some 200,000 of these.
    due_s = clock_s + params.period_s
    return replace(state, habit=habit, due_s=due_s, updated_s=clock_s, flow_proven=flowing, view=view), view


def _watched(state: ControlState, evidence: Evidence, dt_s: float) -> FlowHabit:
    """The habit with this stretch seen; nothing is learnt of the hours while the wall clock is in doubt."""
    if not evidence.health.clock_trusted:
        return state.habit
    habit = state.habit.watched(evidence.now.utc, dt_s, evidence.flow.proven)
    return habit.stopped(evidence.now.utc) if state.flow_proven and not evidence.flow.proven else habit


def _at_rest(scene: Scene, state: ControlState, kind: ReasonKind) -> tuple[ControlState, FeederReasons]:
    """No proven flow, or none soon: every pulse is withdrawn; acid's turn ends; the integral stays as it is."""
    state = turn_cut(scene.site, state, scene.evidence, scene.limits)
    for feeder in scene.site.feeders:
        state = _ended(scene, state, feeder)
    why = now_because(kind, scene.evidence)
    return state, tuple((feeder.id, why) for feeder in scene.site.feeders)


def _ended(scene: Scene, state: ControlState, feeder: Feeder) -> ControlState:
    if feeder.substance is Substance.ACID:
        return state.without_pulse(feeder.id)
    most_s = 2.0 * longest_g(scene.params, feeder, scene.site.pool.volume_m3) / feeder.rate_g_s
    return withdrawn(state, feeder, scene.evidence, most_s)


def _chlorine(scene: Scene, state: ControlState, ahead: Plan) -> tuple[ControlState, FeederReasons, float]:
    """The state with chlorine's pulses settled, a reason for each chlorine feeder, and the wanted rate [mg/L/h]."""
    site, evidence, water = scene.site, scene.evidence, scene.water
    feeders = tuple(f for f in site.feeders if f.substance is Substance.CHLORINE)
    refusal = _refusal(scene, state, ahead)
    if refusal is not None:
        for feeder in feeders:
            state = _ended(scene, state, feeder)
            if refusal.code == reasons.OVERDOSE_FADES.code:
                state = owing(state, feeder, -1e9, 0.0)
        return state, tuple((feeder.id, refusal) for feeder in feeders), 0.0
    able = shares(site, scene.limits, scene.lasting)
    state, rate, origin, why = _rate(scene, state, ahead, able)
    no_room = now_because(reasons.UPPER_LIMIT, evidence, high95_mg_l=water.high95_mg_l, limit_mg_l=scene.goal.limit_mg_l)
    room_g = _room_mg_l(scene, state) * site.pool.volume_m3
    rate_g_s = rate * site.pool.volume_m3 / 3600.0
    given: list[tuple[FeederId, Reason]] = []
    for feeder, share in able:
        start_g = left_by_guards_g(feeder.id, scene.limits)
        state = cut_short(scene.params, state, feeder, scene.granted, start_g, evidence)
        arrives = _arrives(scene, feeder) if origin is Origin.CONTROL else 1.0
        state, reason = ordered(
            scene.params,
            state,
            feeder,
            Order(rate_g_s * share / arrives, room_g * share, start_g, origin, why, no_room),
            evidence,
            scene.dt_s,
        )
        if rate <= 0.0 and reason.code == reasons.GATHERING.code:
            reason = why
        given.append((feeder.id, reason))
    done = {feeder for feeder, _ in given}
    for feeder in feeders:
        if feeder.id not in done:
            state = state.without_pulse(feeder.id)
            given.append((feeder.id, now_because(reasons.BARRED, evidence, guard=denied_by(feeder.id, scene.limits) or "")))
    return state, tuple(given), rate


def _unsure(state: ControlState) -> bool:
    """On fall-back because hardly anything is known of the chlorine."""
    return state.fallback_why is not None and state.fallback_why.code == reasons.FALLBACK_UNSURE.code


def _refusal(scene: Scene, state: ControlState, ahead: Plan) -> Reason | None:
    """Why no chlorine at all is wanted now, None where it may be."""
    left_s = turn_left_s(scene.params, state, scene.evidence)
    if left_s > 0.0:
        return now_because(reasons.ACID_ROOM, scene.evidence, left_s=round(left_s), ph=scene.water.ph)
    water, goal = scene.water, scene.goal
    # What is hardly known is left to fade only where it is surely too much: an empty pool is a harm too.
    shown = water.low95_mg_l if _unsure(state) else water.free_chlorine_mg_l
    if shown > ahead.fade_mg_l:
        return now_because(
            reasons.OVERDOSE_FADES, scene.evidence, free_chlorine_mg_l=water.free_chlorine_mg_l, target_mg_l=goal.mg_l
        )
    return None


def _room_mg_l(scene: Scene, state: ControlState) -> float:
    """What may be fed before free chlorine could pass its upper limit. With hardly any knowledge the best guess must do."""
    top = scene.water.free_chlorine_mg_l if _unsure(state) else scene.water.high95_mg_l
    return max(0.0, scene.goal.limit_mg_l - top)


def _arrives(scene: Scene, feeder: Feeder) -> float:
    """What reaches the water of what this feeder is booked for, as far as it is known: a stale product asks for more of it."""
    aged = arriving_share(feeder, scene.evidence.standing, scene.evidence.clock_s, scene.water.temp_c)
    return min(ARRIVES_MOST, max(ARRIVES_LEAST, scene.water.arrives * aged))


def _arriving_g_s(scene: Scene) -> float:
    """What reaches the water of the feeders that may feed, a pump's waits counted. [g/s]"""
    able, volume_m3 = shares(scene.site, scene.limits, scene.lasting), scene.site.pool.volume_m3
    return sum(steady_g_s(scene.params, feeder, volume_m3) * _arrives(scene, feeder) for feeder, _ in able)


def _rate(
    scene: Scene, state: ControlState, ahead: Plan, able: tuple[tuple[Feeder, float], ...]
) -> tuple[ControlState, float, Origin, Reason]:
    """Wanted rate [mg/L/h], who asks and why: fall-back, or feed-forward with its trim."""
    params, evidence, water = scene.params, scene.evidence, scene.water
    unsure = _unsure(state)
    if state.fallback_why is not None and not unsure:
        kept = reserve(params, state, evidence)
        if kept.share <= 0.0:
            return state, 0.0, Origin.FALLBACK, now_because(reasons.HOLD, evidence)
        if not evidence.health.clock_trusted:
            return state, 0.0, Origin.FALLBACK, now_because(reasons.HOLD_CLOCK, evidence)
        rate = kept.rate_mg_l_h
        if tested_lately(evidence):
            # The model goes on from the test; how far beyond the fall-back's share is for the interlocks to say.
            planned = ahead.rate_mg_l_h + params.trim_per_h * (ahead.aim_mg_l - water.free_chlorine_mg_l)
            rate = max(rate, min(planned, MORE_THAN_USUAL * rate / kept.share))
        percent = round(100.0 * kept.share * rate / kept.rate_mg_l_h)
        why = now_because(reasons.FEED_FALLBACK, evidence, share_percent=percent, usual_mg_l_day=kept.usual_mg_l_day)
        return state, rate, Origin.FALLBACK, why
    booked = sum(feeder.rate_g_s for feeder, _ in able) * 3600.0 / scene.site.pool.volume_m3
    most = sum(feeder.rate_g_s * _arrives(scene, feeder) for feeder, _ in able) * 3600.0 / scene.site.pool.volume_m3
    chlorine = tuple(feeder.id for feeder, _ in able)
    waiting = any(pulse.feeder in chlorine and pulse.feeder not in scene.granted for pulse in state.pulses)
    # The estimate learns loss and feeder; the trim mends the rest. Unbounded, it took on the whole dose of a stale product, and
    # went on with it for days when that was fresh.
    trimmed = min(most, max(TRIM_LEAST_MG_L_H, TRIM_SHARE * ahead.rate_mg_l_h))
    error = ahead.aim_mg_l - water.free_chlorine_mg_l
    asked = ahead.rate_mg_l_h + params.trim_per_h * error + state.integral_mg_l_h
    # Conditional integration: beyond what the feeders can give, or below nothing, an error teaches nothing.
    saturated = (asked >= most and error > 0.0) or (asked <= 0.0 and error < 0.0)
    correction, integral = trim(
        water.free_chlorine_mg_l,
        ahead.aim_mg_l,
        per_h=params.trim_per_h,
        integral_per_h2=params.trim_integral_per_h2,
        integral=state.integral_mg_l_h,
        limits=(-most, most),
        integral_most=trimmed,
        dt_h=scene.dt_s / 3600.0,
        frozen=waiting or saturated or not able or held_back(chlorine, state, scene.limits),
    )
    rate = min(most, max(0.0, ahead.rate_mg_l_h + correction))
    if unsure:
        # The reading can be read, only not well: the best guess is fed for, within what is usual. Less would let a pool that is
        # hardly known die of the doubt, more would trust a guess.
        kept = reserve(params, state, evidence)
        arrives = most / booked if booked > 0.0 else 1.0
        usual = kept.all_mg_l_h * arrives if kept.share > 0.0 else 0.0
        rate = min(most, max(kept.rate_mg_l_h * arrives, min(rate, usual)))
    facts = {"free_chlorine_mg_l": water.free_chlorine_mg_l, "aim_mg_l": ahead.aim_mg_l}
    if rate <= 0.0:
        why = now_because(reasons.ENOUGH, evidence, **facts)
    elif ahead.aim_mg_l > scene.goal.high_mg_l:
        share = round(100.0 * ahead.pause_takes)
        why = now_because(reasons.FEED_AHEAD, evidence, **facts, pause_h=round(ahead.pause_h, 1), share_percent=share)
    else:
        why = now_because(reasons.FEED_CHLORINE, evidence, **facts, rate_mg_l_h=rate)
    return replace(state, integral_mg_l_h=integral), rate, Origin.CONTROL, why
