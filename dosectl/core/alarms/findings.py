"""Conditions of single alarms: what one step must show for each of them."""

import math
from datetime import datetime

from dosectl.chemistry.chlorine import upper_free_chlorine_limit_mg_l
from dosectl.core.alarms.conditions import because, settled
from dosectl.core.alarms.row import Condition, Finding, Looking
from dosectl.model.feeds import FeederId, Substance
from dosectl.model.reasons import Reason
from dosectl.model.signals import SignalKind
from dosectl.model.verdicts import Denial

HOUR_S = 3600.0
NEARLY_ALL = 0.8  # of the flow time: engineering judgement, a July cell runs six of eight hours
DAY_S = 86400.0
PH_HIGH, PH_DEADBAND = 8.2, 0.1  # as the guard's: common practice


def no_flow_though_pumping(look: Looking, _was: bool) -> Finding:
    """The pump's own evidence says that it runs, and the flow's that no water moves."""
    pump, flow = look.first.get(SignalKind.PUMP), look.first.get(SignalKind.FLOW)
    if pump is None or flow is None:
        return False
    running, moves = pump.switch(), flow.switch()
    if running is None or moves is None:
        return None
    return because(look, "alarm.no_flow") if running and not moves else False


def runs_though_off(look: Looking, _was: bool) -> Finding:
    """A feeder's load showed it running more than 3 s after it was asked off and its last command had ended by itself."""
    evidence = look.view.evidence
    for feeder, facts in evidence.feeders.items():
        feedback = evidence.site.feeder(feeder).feedback
        asked_s = evidence.silent_by_s(feeder)
        if not facts.running or asked_s is None or feedback is None:
            continue
        seen_s = evidence.readings[feedback].at_s
        if seen_s is not None and seen_s - asked_s > 3.0:
            return because(look, "alarm.runs_though_off", ("feeder", str(feeder)))
    return False


def changed_unfed(*kinds: SignalKind) -> Condition:
    """A guard saw a signal of one of these kinds move although nothing was fed."""

    def condition(look: Looking, _was: bool) -> Finding:
        if "change.unfed" not in look.denials:
            return False
        for signal in look.view.evidence.site.signals:
            if signal.kind in kinds:
                why = look.denials.get(f"change.unfed.{signal.id}")
                if why is not None:
                    return why
        return False

    return condition


def foreign(look: Looking, _was: bool) -> Finding:
    """Another program commands one of our feeders, or a node obeys another owner."""
    found = look.denials.get("owner.foreign")
    if found is not None:
        return found
    for command in look.view.evidence.foreign:
        return because(look, "alarm.foreign", ("topic", command.topic), ("owner", command.owner))
    return False


def all_denied(substance: Substance) -> Condition:
    """Every feeder of a substance is denied by some guard."""

    def condition(look: Looking, _was: bool) -> Finding:
        feeders = look.view.evidence.site.feeding(substance)
        why: Reason | None = None
        for feeder in feeders:
            first = next((v for v in look.view.objections.get(feeder, ()) if isinstance(v, Denial)), None)
            if first is None:
                return False
            why = why or first.why
        return why if why is not None else False

    return condition


def chlorine_low(look: Looking, was: bool) -> Finding:
    """The upper 95 % bound of free chlorine is under three quarters of the target: it surely is below its band."""
    if not settled(look.view.evidence):
        return None
    high95, target = look.view.water.high95_mg_l, look.view.target_mg_l
    if high95 < (0.85 if was else 0.75) * target:
        return because(look, "alarm.chlorine_low", ("high95_mg_l", round(high95, 2)), ("target_mg_l", round(target, 2)))
    return False


def chlorine_gone(look: Looking, was: bool) -> Finding:
    """The upper 95 % bound of free chlorine is under half of the target, water flowing or not: nobody should swim in it."""
    high95, target = look.view.water.high95_mg_l, look.view.target_mg_l
    if high95 < 0.5 * target + (0.3 if was else 0.0):
        return because(look, "alarm.chlorine_low", ("high95_mg_l", round(high95, 2)), ("target_mg_l", round(target, 2)))
    return False


def chlorine_unexplained(look: Looking, was: bool) -> Finding:
    """The lower 95 % bound of free chlorine is over the upper limit for bathing."""
    low95 = look.view.water.low95_mg_l
    limit = upper_free_chlorine_limit_mg_l(look.view.evidence.stabiliser_mg_l())
    if low95 > limit - (0.3 if was else 0.0):
        return because(look, "alarm.chlorine_unexplained", ("low95_mg_l", round(low95, 2)), ("limit_mg_l", limit))
    return False


def ph_high(look: Looking, was: bool) -> Finding:
    """pH is over 8.2, in settled flow, or a guard holds chlorine for it.

    One reading over the guard's limit holds chlorine until the pH has been well below for ten minutes, and with less fed the pH
    may hang there for days: no quarter of an hour over 8.2 would say so.
    """
    value = look.number(SignalKind.PH) if settled(look.view.evidence) else None
    if value is None:
        return None
    held = look.limits.get("high.ph.rate")
    if held is not None or value > PH_HIGH - (PH_DEADBAND if was else 0.0):
        limit = None if held is None else held.fact("limit")
        return because(look, "alarm.ph_high", ("value", value), ("limit", PH_HIGH if limit is None else limit))
    return False


def on_fallback(look: Looking, _was: bool) -> Finding:
    """Chlorine runs without a usable reading, while water moves."""
    return look.view.fallback if settled(look.view.evidence) else None


def unsure(look: Looking, _was: bool) -> Finding:
    """There is a reading, but the chlorine is hardly known by it."""
    return look.view.unsure if settled(look.view.evidence) else None


def daily_limit_twice(look: Looking, _was: bool) -> Finding:
    """The daily limit was reached in the last 24 h and in the 24 h before."""
    why = look.limits.get("mass.day")
    if why is None:
        return False
    limit, named = why.fact("limit_mg_l"), why.fact("substance")
    if not isinstance(limit, int | float) or named is None:
        return None
    substance = Substance(str(named))
    today = look.view.evidence.fed_mg_l(substance, DAY_S)
    both = look.view.evidence.fed_mg_l(substance, 2 * DAY_S)
    return why if today >= 0.95 * limit and both - today >= 0.95 * limit else False


def guards_unable(look: Looking, _was: bool) -> Finding:
    """Some guard can't judge a part of this plant, for want of a signal or a figure."""
    named = look.view.unable
    return because(look, "alarm.guards_unable", ("guards", ", ".join(named))) if named else False


def node_offline(look: Looking, _was: bool) -> Finding:
    """A feeder's node has not reported for a minute, or not at all since the start."""
    evidence = look.view.evidence
    for feeder in evidence.site.feeders:
        if feeder.node is None:
            continue
        age_s = evidence.feeders[FeederId(feeder.id)].node_age_s
        silent_s = evidence.clock_s - evidence.start.started_s if age_s is None else age_s
        if silent_s > 60.0:
            return because(look, "alarm.node_offline", ("node", str(feeder.node)), ("feeder", str(feeder.id)))
    return False


def starts_within(window_s: float, count: int) -> Condition:
    """So many starts in a window."""

    def condition(look: Looking, _was: bool) -> Finding:
        evidence = look.view.evidence
        starts = sum(1 for start_s in evidence.start.starts_s if evidence.clock_s - start_s <= window_s)
        return because(look, "alarm.starts", ("starts", starts)) if starts >= count else False

    return condition


def unclean_start(look: Looking, _was: bool) -> Finding:
    """The run before did not end in order."""
    evidence = look.view.evidence
    recent = evidence.clock_s - evidence.start.started_s < 600.0
    return because(look, "alarm.unclean_start") if recent and not evidence.start.clean else False


def record_failing(look: Looking, _was: bool) -> Finding:
    """The record can't be written, or a guard stops feeding for its sake."""
    found = look.denials.get("record.store")
    if found is not None:
        return found
    return because(look, "alarm.record") if not look.view.evidence.health.journal_ok else False


def set_by_hand(which: str) -> Condition:
    """The manual stop or the service lockout stands."""

    def condition(look: Looking, _was: bool) -> Finding:
        standing = look.view.evidence.standing
        why = standing.stop if which == "stop" else standing.service
        return why if why is not None else False

    return condition


def forward_delayed(look: Looking, _was: bool) -> Finding:
    """The time-series server has not taken a record for a day."""
    backlog_s = look.view.evidence.health.forward_backlog_s
    return (
        because(look, "alarm.forward", ("hours", round(backlog_s / HOUR_S)))
        if (backlog_s or 0.0) > DAY_S and backlog_s
        else False
    )


def faults_of(*prefixes: str, others: bool = False) -> Condition:
    """Something round the step reports a fault whose code begins with one of these; or, for `others`, with none of them."""

    def condition(look: Looking, _was: bool) -> Finding:
        found = [fault for fault in look.view.evidence.health.faults if fault.startswith(prefixes) is not others]
        return because(look, "alarm.adapter", ("fault", str(found[0])), ("count", len(found))) if found else False

    return condition


def proof_due(look: Looking, _was: bool) -> Finding:
    """A feeder's proof record is older than the set number of days; unknown while the wall clock is in doubt."""
    evidence = look.view.evidence
    if not evidence.health.clock_trusted:
        return None
    for proof in evidence.standing.proofs:
        days = 0 if proof.simulated else _age_days(proof.at_utc, evidence.now.utc)
        if days is None or days > look.params.proof_due_days:
            age = "an unreadable time" if days is None else f"{days} days"
            return because(look, "alarm.proof_due", ("feeder", str(proof.feeder)), ("age", age))
    return False


def _age_days(at_utc: str, now: datetime) -> int | None:
    try:
        return (now - datetime.fromisoformat(at_utc)).days
    except (ValueError, TypeError):  # no time, or one without its zone
        return None


def pump_hours_short(look: Looking, _was: bool) -> Finding:
    """Less than one turnover of proven flow in the last 24 h, or a chlorine feeder that runs nearly all of that flow and does not
    reach the target; unknown until a day is on record."""
    evidence = look.view.evidence
    marks = look.memory.flow_marks
    if not marks or evidence.clock_s - marks[0][0] < DAY_S:
        return None
    flow_h = (evidence.flow.clock_s - marks[0][1]) / HOUR_S
    needed_h = evidence.site.pool.turnover_h
    if flow_h < needed_h:
        return because(look, "alarm.pump_hours", ("flow_h", round(flow_h, 1)), ("needed_h", needed_h))
    site = evidence.site
    rate_g_h = sum(site.feeder(feeder).rate_g_s for feeder in site.feeding(Substance.CHLORINE)) * HOUR_S
    most_mg_l = rate_g_h * flow_h / site.pool.volume_m3
    fed_mg_l = evidence.fed_mg_l(Substance.CHLORINE, evidence.clock_s - marks[0][0])
    water = look.view.water
    likely_mg_l = math.sqrt(max(0.0, water.low95_mg_l) * water.high95_mg_l)
    if most_mg_l > 0.0 and fed_mg_l >= NEARLY_ALL * most_mg_l and likely_mg_l < look.view.target_mg_l:
        return because(
            look,
            "alarm.feeder_small",
            ("fed_mg_l", round(fed_mg_l, 1)),
            ("most_mg_l", round(most_mg_l, 1)),
            ("flow_h", round(flow_h, 1)),
        )
    return False


def proving_long(look: Looking, _was: bool) -> Finding:
    """Flow was lost so often that it must now hold for much longer before anything is fed."""
    why = look.denials.get("flow.proving")
    proving_s = None if why is None else why.fact("proving_s")
    return why if why is not None and isinstance(proving_s, int | float) and proving_s >= 600.0 else False
