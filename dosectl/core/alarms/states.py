"""The state of every alarm after a step: present, answered, latched, each a fact of its own; and what changed."""

from dataclasses import replace

from dosectl.core.alarms.aside import act_on, end_asides
from dosectl.core.alarms.catalogue import BY_CODE
from dosectl.core.alarms.hiding import CLOSED, hide
from dosectl.core.alarms.looking import look, rows_to_look_at
from dosectl.core.alarms.params import AlarmParams
from dosectl.core.alarms.priority import Priority
from dosectl.core.alarms.restless import edge, off_delay_s
from dosectl.core.alarms.row import Cause, Finding, Row, Scale, Several
from dosectl.core.alarms.several import begun, first_cause, joined
from dosectl.core.alarms.telling import change_of
from dosectl.core.alarms.view import Alarm, AlarmChange, AlarmMemory, AlarmView, Answered
from dosectl.model.alarm_acts import AlarmAct
from dosectl.model.reasons import Code, Reason

__all__ = ["Alarm", "AlarmChange", "AlarmMemory", "AlarmView", "put_aside", "standing", "update"]

HOUR_S = 3600.0
DAY_S = 86400.0

# An answered alarm that is still present speaks up again after so long.
AGAIN_S = {Priority.CRITICAL: 2 * HOUR_S, Priority.HIGH: 12 * HOUR_S, Priority.MEDIUM: 48 * HOUR_S}
# What stands for weeks and was answered each time is known: it speaks up after half its age, at the latest after so long. A
# frozen winter would else call twice a day, and be muted with all the rest.
AGAIN_S_MAX = {Priority.CRITICAL: 12 * HOUR_S, Priority.HIGH: 3 * DAY_S, Priority.MEDIUM: 7 * DAY_S}


def update(
    params: AlarmParams,
    memory: AlarmMemory,
    view: AlarmView,
    answers: tuple[Answered, ...] = (),
    acts: tuple[AlarmAct, ...] = (),
) -> tuple[AlarmMemory, tuple[AlarmChange, ...]]:
    """Judges every row of the catalogue. The memory is the same object as before where nothing changed."""
    evidence = view.evidence
    clock_s, flow_s = evidence.clock_s, evidence.flow.clock_s
    hidings, hiding = hide(memory.hidings, view)
    marks = _marked(memory.flow_marks, clock_s, flow_s)
    looking = look(view, params, memory)
    known = {alarm.code: alarm for alarm in memory.alarms}
    changes: list[AlarmChange] = []
    end_asides(known, view, changes)
    for row in rows_to_look_at(looking, memory):
        before = known.get(row.code)
        present = before is not None and before.present
        parent = _parent(row, hiding) if hiding else None
        found = row.condition(looking, present) if parent is None else None
        if before is None:
            if found is None or found is False:
                continue
            before = Alarm(row.code)
        after = _looked_at(row, before, found, parent, view, changes)
        if not (after.acked or after.present or after.latched):
            after = _self_answered(row, after, params, clock_s, view, changes)
        if after.hidden != parent:
            after = _hidden(row, after, parent, view, changes)
        if after is not before:
            known[row.code] = _calmed(after)
    for answer in answers:
        _answer(answer, known, view, changes)
    for act in acts:
        act_on(act, known, view, changes)
    alarms = tuple(known.values())
    if len(alarms) == len(memory.alarms) and all(a is b for a, b in zip(alarms, memory.alarms, strict=True)):
        alarms = memory.alarms
    if alarms is memory.alarms and hidings is memory.hidings and marks is memory.flow_marks:
        return memory, tuple(changes)
    return AlarmMemory(alarms, hidings, marks, memory.calls), tuple(changes)


def standing(memory: AlarmMemory) -> tuple[Alarm, ...]:
    """Alarms that somebody must still see, the gravest and newest first."""
    shown = [alarm for alarm in memory.alarms if not alarm.normal and alarm.code in BY_CODE]
    return tuple(sorted(shown, key=lambda alarm: (-BY_CODE[alarm.code].priority_at(alarm.level), -alarm.raised_s, alarm.code)))


def _parent(row: Row, hiding: frozenset[Code]) -> Code | None:
    """What hides the row now."""
    return next((name for name in row.hidden_by if name in hiding), None)


def _hidden(row: Row, alarm: Alarm, parent: Code | None, view: AlarmView, changes: list[AlarmChange]) -> Alarm:
    """With the parent that hides it; what is normal is not hidden, there is nothing to see."""
    if alarm.normal:
        return alarm if alarm.hidden is None else replace(alarm, hidden=None)
    after = replace(alarm, hidden=parent)
    if (parent is None) is not (alarm.hidden is None):
        changes.append(change_of(row, after, "shown" if parent is None else "hidden", view, note=str(parent or alarm.hidden)))
    return after


def _calmed(alarm: Alarm) -> Alarm:
    """What is normal may be shelved afresh."""
    return replace(alarm, shelvings=0) if alarm.shelvings and alarm.normal and alarm.shelf is None else alarm


def _marked(marks: tuple[tuple[float, float], ...], clock_s: float, flow_s: float) -> tuple[tuple[float, float], ...]:
    if marks and clock_s - marks[-1][0] < HOUR_S:
        return marks
    return (*(mark for mark in marks if clock_s - mark[0] <= DAY_S + HOUR_S), (clock_s, flow_s))


def _looked_at(
    row: Row, before: Alarm, found: Finding, parent: Code | None, view: AlarmView, changes: list[AlarmChange]
) -> Alarm:
    """The alarm after one look at its condition."""
    clock_s = view.evidence.clock_s
    scale_s = view.evidence.flow.clock_s if row.scale is Scale.FLOW else clock_s
    finding = first_cause(found)
    if not before.present:
        after = _while_clear(row, before, finding, parent, scale_s, view, changes)
        return begun(after, found, clock_s) if after.present else after
    after = _while_present(row, before, finding, clock_s, scale_s, view, changes)
    if isinstance(found, Several) and after.occurrence == before.occurrence:
        return _with_more(row, after, found, clock_s, view, changes)
    return after


def _while_clear(
    row: Row,
    alarm: Alarm,
    finding: Cause,
    parent: Code | None,
    scale_s: float,
    view: AlarmView,
    changes: list[AlarmChange],
) -> Alarm:
    if finding is None or finding is False:
        # Unknown keeps the delay running; clear ends it, and so does hiding. But not a delay in flow time, which stands still
        # while the pump is off: else a condition of 12 h of flow would never be seen where the pump stops each night. A closed
        # season ends that too: its months of flow are no part of anything.
        ended = finding is False or (parent is not None and (row.scale is Scale.PLANT or parent == CLOSED))
        return replace(alarm, pending_s=None) if ended and alarm.pending_s is not None else alarm
    pending_s = scale_s if alarm.pending_s is None else alarm.pending_s
    if scale_s - pending_s < row.on_delay_s:
        return alarm if alarm.pending_s is not None else replace(alarm, pending_s=pending_s)
    raised = _raised(row, alarm, finding, pending_s, view)
    changes.append(change_of(row, raised, "raised", view))
    if raised.restless and not alarm.restless:
        changes.append(change_of(row, raised, "restless", view))
    return raised


def _raised(row: Row, alarm: Alarm, finding: Reason | bool, begun_s: float, view: AlarmView) -> Alarm:
    """A new occurrence, at the level that the age of its condition asks for."""
    clock_s = view.evidence.clock_s
    raised = replace(
        edge(alarm, clock_s, comes=True),
        occurrence=alarm.occurrence + 1,
        present=True,
        acked=False,
        latched=row.latch,
        level=0,
        pending_s=None,
        since=view.evidence.now,
        raised_s=clock_s,
        raised_scale_s=begun_s,
        answered_s=None,
        answered_by="",
        cleared_s=None,
        why=finding if isinstance(finding, Reason) else None,
        worst=_value(finding),
    )
    scale_s = view.evidence.flow.clock_s if row.scale is Scale.FLOW else clock_s
    return _risen(row, raised, scale_s, view.away)


def _value(finding: Reason | bool) -> float | None:
    """The cause's value, where it has one."""
    value = finding.fact("value") if isinstance(finding, Reason) else None
    return None if isinstance(value, bool | str) or value is None else float(value)


def _worse(row: Row, alarm: Alarm, finding: Reason | bool) -> bool:
    """The value went on in the bad direction by as much as the row calls a new occurrence."""
    value = _value(finding)
    if value is None or alarm.worst is None:
        return False
    further = value - alarm.worst
    return further >= row.worse_by if row.worse_by > 0.0 else further <= row.worse_by


def _risen(row: Row, alarm: Alarm, scale_s: float, away: bool) -> Alarm:
    """With the level its age asks for, or an absence; age counts from the begin of the condition, not from the call."""
    level = sum(1 for age_s, _ in row.rises if scale_s - alarm.raised_scale_s >= age_s)
    if away and row.away is not None and row.away > row.priority_at(level):
        level = len(row.rises) + 1
    return replace(alarm, level=level, acked=False) if level > alarm.level else alarm


def _while_present(
    row: Row,
    alarm: Alarm,
    finding: Cause,
    clock_s: float,
    scale_s: float,
    view: AlarmView,
    changes: list[AlarmChange],
) -> Alarm:
    if finding is False:
        delay_s = off_delay_s(row, alarm)
        if alarm.pending_s is None and delay_s > 0.0:
            return replace(alarm, pending_s=clock_s)
        if alarm.pending_s is not None and clock_s - alarm.pending_s < delay_s:
            return alarm
        moved = edge(alarm, clock_s, comes=False)
        if moved.restless > alarm.restless:  # it stays on: the next change would come at once
            if not alarm.restless:
                changes.append(change_of(row, moved, "restless", view))
            return replace(moved, pending_s=clock_s)
        cleared = replace(moved, present=False, pending_s=None, cleared_s=clock_s, latched=alarm.latched and not alarm.acked)
        changes.append(change_of(row, cleared, "cleared", view))
        return cleared
    if finding is None:
        return alarm
    after = replace(alarm, pending_s=None) if alarm.pending_s is not None else alarm
    if row.worse_by and _worse(row, after, finding):
        worse = replace(_raised(row, replace(after, shelf=None), finding, after.raised_scale_s, view), edges_s=after.edges_s)
        changes.append(change_of(row, worse, "worse", view))
        return worse
    risen = _risen(row, after, scale_s, view.away) if row.rises or row.away is not None else after
    if risen is not after:
        risen = replace(risen, shelf=None)  # it was put aside at a lower level
        changes.append(change_of(row, risen, "risen", view))
        return risen
    if after.acked and not after.aside and after.answered_s is not None and _speaks_again(row, after, view):
        after = replace(after, acked=False, answered_s=None)
        changes.append(change_of(row, after, "again", view))
    return after


def _with_more(row: Row, alarm: Alarm, found: Several, clock_s: float, view: AlarmView, changes: list[AlarmChange]) -> Alarm:
    """A new occurrence for a feeder or probe that has joined those which the alarm stands for."""
    after, why = joined(alarm, found, clock_s, row.on_delay_s)
    if why is None or why is False:
        return after
    more = replace(_raised(row, replace(after, shelf=None), why, after.raised_scale_s, view), edges_s=after.edges_s)
    changes.append(change_of(row, more, "worse", view))
    return more


def _speaks_again(row: Row, alarm: Alarm, view: AlarmView) -> bool:
    """Whether an answered alarm that is still present was quiet for long enough."""
    priority = row.priority_at(alarm.level)
    if priority not in AGAIN_S or alarm.answered_s is None:
        return False
    quiet_s = view.evidence.clock_s - alarm.answered_s
    stood_s = 0.0 if alarm.since is None else (view.evidence.now.utc - alarm.since.utc).total_seconds() - quiet_s
    return quiet_s >= min(AGAIN_S_MAX[priority], max(AGAIN_S[priority], 0.5 * stood_s))


def _self_answered(
    row: Row, alarm: Alarm, params: AlarmParams, clock_s: float, view: AlarmView, changes: list[AlarmChange]
) -> Alarm:
    """A low one that went away by itself leaves the list after a while."""
    if row.priority_at(alarm.level) > Priority.LOW or alarm.cleared_s is None:
        return alarm
    if clock_s - alarm.cleared_s < params.self_answer_h * HOUR_S:
        return alarm
    gone = replace(alarm, acked=True, answered_s=clock_s)
    changes.append(change_of(row, gone, "let_go", view))
    return gone


def _answer(answer: Answered, known: dict[Code, Alarm], view: AlarmView, changes: list[AlarmChange]) -> None:
    """An answer covers only the occurrence it names; it never clears."""
    alarm = known.get(answer.alarm)
    row = BY_CODE.get(answer.alarm)
    if alarm is None or row is None or alarm.occurrence != answer.occurrence or alarm.acked:
        return
    after = replace(
        alarm, acked=True, answered_s=view.evidence.clock_s, answered_by=answer.by, latched=alarm.latched and alarm.present
    )
    known[answer.alarm] = _calmed(after)
    changes.append(change_of(row, after, "answered", view, answer.by))


def put_aside(memory: AlarmMemory) -> tuple[Alarm, ...]:
    """Alarms on the shelf or out of service, standing or not: a list of its own, so that nobody forgets them."""
    return tuple(alarm for alarm in memory.alarms if alarm.aside and alarm.code in BY_CODE)
