"""From a wanted rate to pulses: seconds of full output are owed, and given when they make a decent pulse.

A cell by relay runs in whole stretches, which is time-proportional output with few starts; a device that takes a level runs
through at it; a metering pump gives whole metered pulses. What is owed is bounded, so a barred feeder does not catch up later.
"""

from dataclasses import dataclass, replace

from dosectl.core.control import reasons
from dosectl.core.control.params import ControlParams
from dosectl.core.control.reasons import now_because
from dosectl.core.control.state import ControlState, Pulse
from dosectl.core.evidence import Evidence
from dosectl.core.interlocks.mixed import wait_after_s
from dosectl.core.site import Feeder
from dosectl.model.feeds import FeederId, Origin, Substance
from dosectl.model.ledger import Ledger
from dosectl.model.reasons import Reason

DONE_S = 1.0  # a pulse with less than this left is done
START_SHARE = 0.6  # of the least feed: what a limit must leave before a feed is begun
PATIENT_S, LITTLE_MG_L = 2 * 3600.0, 0.03
BUSY_SHARE = 0.4  # of its output: a pump that is asked for more has no time for pauses between short feeds


@dataclass(frozen=True, slots=True)
class Order:
    """What a chlorine feeder is asked for: rate [g/s], room below the upper limit and what the guards leave for a start [g], who
    asks, why, and why not if no room."""

    rate_g_s: float
    room_g: float
    start_g: float
    origin: Origin
    why: Reason
    why_no_room: Reason


def fed_g(ledger: Ledger, feeder: FeederId) -> float:
    """All that the feeder was booked to have fed so far, the open reservation as far as it is drawn. [g]"""
    entry = ledger.of(feeder)
    return entry.closed_g + (entry.open.used_g if entry.open is not None else 0.0)


def left_g(pulse: Pulse, ledger: Ledger) -> float:
    """Mass that a pulse still wants. [g]"""
    return pulse.mass_g - (fed_g(ledger, pulse.feeder) - pulse.before_g)


def owing(state: ControlState, feeder: Feeder, more_s: float, most_s: float) -> ControlState:
    """The state with `more_s` more seconds owed by the feeder, kept within 0 and `most_s`."""
    owed = min(most_s, max(0.0, state.owed_by(feeder.id) + more_s))
    return replace(state, owed_s=(*(item for item in state.owed_s if item[0] != feeder.id), (feeder.id, owed)))


def rest_left_s(feeder: Feeder, evidence: Evidence, rest_s: float) -> float:
    """Seconds until the feeder has rested."""
    last_s = evidence.ledger.of(feeder.id).last_fed_s()
    return 0.0 if last_s is None else max(0.0, last_s + rest_s - evidence.clock_s)


def shortest_g(params: ControlParams, feeder: Feeder, volume_m3: float) -> float:
    """The least mass worth a start. [g]"""
    rate = feeder.rate_g_s
    if feeder.percent:
        return params.level_min * params.cell_period_s * rate
    if feeder.kind == "pump":
        return max(feeder.pulse_s_min * rate, min(params.pump_pulse_mg_l_min * volume_m3, feeder.pulse_s_max * rate))
    return max(feeder.pulse_s_min, min(params.cell_on_s_min, params.cell_period_s, feeder.pulse_s_max)) * rate


def longest_g(params: ControlParams, feeder: Feeder, volume_m3: float) -> float:
    """The most mass of one pulse. [g]"""
    longest = feeder.pulse_s_max * feeder.rate_g_s
    if feeder.percent or feeder.kind != "pump":
        return min(longest, params.cell_period_s * feeder.rate_g_s)
    return min(longest, params.pump_pulse_mg_l_max * volume_m3)


def _rest_s(params: ControlParams, feeder: Feeder, run_s: float) -> float:
    """The rest that a feeder takes after a run of so long, as `mixing.wait` asks for it. [s]"""
    if feeder.kind != "pump":
        return feeder.rest_s_min
    mixes_s = params.pump_rest_s if feeder.percent else wait_after_s(params.pump_rest_s, run_s)
    return max(feeder.rest_s_min, mixes_s)


def steady_g_s(params: ControlParams, feeder: Feeder, volume_m3: float) -> float:
    """What a feeder gives through hours of flow, a pump of chlorine one longest feed after another. [g/s]"""
    if feeder.kind != "pump" or feeder.substance is not Substance.CHLORINE:
        return feeder.rate_g_s
    most_g = longest_g(params, feeder, volume_m3)
    run_s = most_g / feeder.rate_g_s
    return most_g / (run_s + _rest_s(params, feeder, run_s))


def withdrawn(state: ControlState, feeder: Feeder, evidence: Evidence, most_s: float) -> ControlState:
    """The pulse ended, what it still wanted owed again."""
    pulse = state.pulse_of(feeder.id)
    if pulse is None:
        return state
    return owing(state.without_pulse(feeder.id), feeder, max(0.0, left_g(pulse, evidence.ledger)) / feeder.rate_g_s, most_s)


def ordered(
    params: ControlParams, state: ControlState, feeder: Feeder, order: Order, evidence: Evidence, dt_s: float
) -> tuple[ControlState, Reason]:
    """The feeder's pulses under an order for the last `dt_s` seconds: the state, and why it is wanted now or not."""
    volume = evidence.site.pool.volume_m3
    most_g = longest_g(params, feeder, volume)
    most_s = 2.0 * most_g / feeder.rate_g_s
    owed_s = min(most_s, state.owed_by(feeder.id) + dt_s * order.rate_g_s / feeder.rate_g_s)
    pulse = state.pulse_of(feeder.id)
    if pulse is not None:
        left = left_g(pulse, evidence.ledger)
        mass_g, level = pulse.mass_g, pulse.level
        if left > order.room_g:
            mass_g -= left - max(0.0, order.room_g)
        elif left < 2.0 * params.period_s * pulse.level * feeder.rate_g_s and (
            feeder.kind != "pump" or order.rate_g_s > BUSY_SHARE * feeder.rate_g_s
        ):
            # A pump's feed as a whole keeps to its longest, so that the probe sees it before the next.
            most = max(0.0, most_g - pulse.mass_g) if feeder.kind == "pump" else most_g
            more_g, level = _prolonging(params, feeder, pulse, order, left, min(owed_s * feeder.rate_g_s, most))
            mass_g, owed_s = mass_g + more_g, owed_s - more_g / feeder.rate_g_s
        pulse = Pulse(feeder.id, order.origin, level, mass_g, pulse.before_g, pulse.started_s, order.why)
        return _noted(state, feeder.id, owed_s, pulse), order.why
    least_g = shortest_g(params, feeder, volume)
    owed_g = owed_s * feeder.rate_g_s
    why = order.why
    if order.room_g < least_g:
        why = order.why_no_room
    elif order.start_g < _room_to_start_g(least_g, volume, feeder, evidence):
        why = now_because(reasons.WAITS_FOR_ROOM, evidence, room_mg_l=round(order.start_g / volume, 2))
    elif owed_g < least_g * 0.999:
        why = now_because(reasons.GATHERING, evidence, share_percent=round(100.0 * owed_g / least_g))
    else:
        rest = rest_left_s(feeder, evidence, _rest_s(params, feeder, evidence.feeders[feeder.id].run_flow_s))
        if rest > 0.0:
            why = now_because(reasons.WAITING, evidence, left_s=round(rest))
        else:
            mass_g = min(owed_g, most_g, order.room_g)
            level, before = _level(params, feeder, order), fed_g(evidence.ledger, feeder.id)
            pulse = Pulse(feeder.id, order.origin, level, mass_g, before, evidence.clock_s, order.why)
            owed_s -= mass_g / feeder.rate_g_s
    return _noted(state, feeder.id, owed_s, pulse), why


def cut_short(
    params: ControlParams,
    state: ControlState,
    feeder: Feeder,
    granted: tuple[FeederId, ...],
    start_g: float,
    evidence: Evidence,
) -> ControlState:
    """The state without a feed that a limit ended; its rest is owed until the limit leaves enough for a start (`start_g`).

    Left standing it would take each gram that a rolling window sets free, a start at a time.
    """
    if state.pulse_of(feeder.id) is None or feeder.id in granted:
        return state
    volume = evidence.site.pool.volume_m3
    if start_g >= _room_to_start_g(shortest_g(params, feeder, volume), volume, feeder, evidence):
        return state
    return withdrawn(state, feeder, evidence, 2.0 * longest_g(params, feeder, volume) / feeder.rate_g_s)


def _room_to_start_g(least_g: float, volume_m3: float, feeder: Feeder, evidence: Evidence) -> float:
    """What the limits must leave before a feed is begun. [g]

    A window that opens gram by gram would else cost a start a minute. After hours of waiting little is enough: a limit that never
    leaves more must not starve the pool.
    """
    last_s = evidence.ledger.of(feeder.id).last_fed_s()
    waited = last_s is None or evidence.clock_s - last_s >= PATIENT_S
    return min(least_g * START_SHARE, LITTLE_MG_L * volume_m3) if waited else least_g * START_SHARE


def _noted(state: ControlState, feeder: FeederId, owed_s: float, pulse: Pulse | None) -> ControlState:
    owed = (*(item for item in state.owed_s if item[0] != feeder), (feeder, max(0.0, owed_s)))
    if pulse is None:
        return replace(state, owed_s=owed)
    return replace(state, owed_s=owed, pulses=(*(p for p in state.pulses if p.feeder != feeder), pulse))


def _prolonging(
    params: ControlParams, feeder: Feeder, pulse: Pulse, order: Order, left: float, owed_g: float
) -> tuple[float, float]:
    """Mass to add to a pulse that nears its end [g], and its level; 0 where too little is owed.

    A cell may run all day, so its longest pulse bounds what is asked for at once, not how often that is asked for again: a rest
    that nothing needs costs a start. Starting asks for a decent pulse, going on for little: this is what makes the starts few.
    """
    level = _level(params, feeder, order)
    least_g = 2.0 * params.period_s * feeder.rate_g_s * (params.level_min if feeder.percent else 1.0)
    more_g = min(owed_g, order.room_g - left)
    if more_g < least_g * 0.999:
        return 0.0, pulse.level
    return more_g, level


def _level(params: ControlParams, feeder: Feeder, order: Order) -> float:
    """The level at which what is ordered flows through without a stop; a relay has 1 only."""
    return min(1.0, max(params.level_min, order.rate_g_s / feeder.rate_g_s)) if feeder.percent else 1.0
