"""The state of every alarm after a step: present, answered, latched, each a fact of its own; and what changed."""

from dataclasses import replace

from dosectl.core.alarms.catalogue import ROWS
from dosectl.core.alarms.conditions import ByGuard
from dosectl.core.alarms.hiding import hide
from dosectl.core.alarms.params import AlarmParams
from dosectl.core.alarms.priority import Priority
from dosectl.core.alarms.row import Looking, Row, Scale
from dosectl.core.alarms.view import Alarm, AlarmChange, AlarmMemory, AlarmView, Answered
from dosectl.model.reasons import Code, Reason
from dosectl.model.signals import Reading, SignalKind, Status
from dosectl.model.verdicts import Denial, Limit

__all__ = ["Alarm", "AlarmChange", "AlarmMemory", "AlarmView", "standing", "update"]

HOUR_S = 3600.0
DAY_S = 86400.0

ROWS_BY_OWN_EYES = tuple(row for row in ROWS if not isinstance(row.condition, ByGuard))
ROWS_BY_GUARD = {row.code: row for row in ROWS if isinstance(row.condition, ByGuard)}
ROWS_OF_OBJECTION = {
    code: tuple(row for row in ROWS_BY_GUARD.values() if isinstance(row.condition, ByGuard) and code in row.condition.codes)
    for code in {code for row in ROWS_BY_GUARD.values() if isinstance(row.condition, ByGuard) for code in row.condition.codes}
}

# An answered alarm that is still present speaks up again after so long.
AGAIN_S = {Priority.CRITICAL: 2 * HOUR_S, Priority.HIGH: 12 * HOUR_S, Priority.MEDIUM: 48 * HOUR_S}


def update(
    params: AlarmParams, memory: AlarmMemory, view: AlarmView, answers: tuple[Answered, ...] = ()
) -> tuple[AlarmMemory, tuple[AlarmChange, ...]]:
    """Judges every row of the catalogue. The memory is the same object as before where nothing changed."""
    evidence = view.evidence
    clock_s, flow_s = evidence.clock_s, evidence.flow.clock_s
    hidings, hiding = hide(memory.hidings, view)
    marks = _marked(memory.flow_marks, clock_s, flow_s)
    looking = _look(view, params, memory)
    known = {alarm.code: alarm for alarm in memory.alarms}
    changes: list[AlarmChange] = []
    for row in _rows_to_look_at(looking, memory):
        before = known.get(row.code)
        present = before is not None and before.present
        hidden = bool(hiding) and not hiding.isdisjoint(row.hidden_by)
        finding = None if hidden else row.condition(looking, present)
        if before is None:
            if finding is None or finding is False:
                continue
            before = Alarm(row.code)
        scale_s = flow_s if row.scale is Scale.FLOW else clock_s
        if present:
            after = _while_present(row, before, finding, clock_s, scale_s, view, changes)
        else:
            after = _while_clear(row, before, finding, hidden, clock_s, scale_s, view, changes)
        if not after.acked and not after.present and not after.latched and row.priority_at(after.level) <= Priority.LOW:
            after = _self_answered(row, after, params, clock_s, view, changes)
        if after is not before:
            known[row.code] = after
    for answer in answers:
        _answer(answer, known, view, changes)
    alarms = tuple(known.values())
    if len(alarms) == len(memory.alarms) and all(a is b for a, b in zip(alarms, memory.alarms, strict=True)):
        alarms = memory.alarms
    if alarms is memory.alarms and hidings is memory.hidings and marks is memory.flow_marks:
        return memory, tuple(changes)
    return AlarmMemory(alarms, hidings, marks), tuple(changes)


def _rows_to_look_at(looking: Looking, memory: AlarmMemory) -> tuple[Row, ...]:
    """All rows that can change: a row that only asks guards can't, unless one of them objects or it is on the list or pending."""
    chosen: dict[Code, Row] = {}
    for code in (*looking.denials, *looking.limits):
        for row in ROWS_OF_OBJECTION.get(code, ()):
            chosen[row.code] = row
    for alarm in memory.alarms:
        if (not alarm.normal or alarm.pending_s is not None) and alarm.code in ROWS_BY_GUARD:
            chosen[alarm.code] = ROWS_BY_GUARD[alarm.code]
    return (*chosen.values(), *ROWS_BY_OWN_EYES) if chosen else ROWS_BY_OWN_EYES


def standing(memory: AlarmMemory) -> tuple[Alarm, ...]:
    """Alarms that somebody must still see, the gravest and newest first."""
    rows = {row.code: row for row in ROWS}
    shown = [alarm for alarm in memory.alarms if not alarm.normal and alarm.code in rows]
    return tuple(sorted(shown, key=lambda alarm: (-rows[alarm.code].priority_at(alarm.level), -alarm.raised_s, alarm.code)))


def _look(view: AlarmView, params: AlarmParams, memory: AlarmMemory) -> Looking:
    denials: dict[str, Reason] = {}
    limits: dict[str, Reason] = {}
    for verdicts in view.objections.values():
        for verdict in verdicts:
            if isinstance(verdict, Denial):
                _index(denials, verdict.guard, verdict.why)
            elif isinstance(verdict, Limit):
                _index(limits, verdict.guard, verdict.why)
    first: dict[SignalKind, Reading] = {}
    bad: list[tuple[SignalKind, Reading]] = []
    readings = view.evidence.readings
    for signal in view.evidence.site.signals:
        reading = readings.get(signal.id)
        if reading is None:
            continue
        if signal.kind not in first:
            first[signal.kind] = reading
        if reading.status is not Status.GOOD:
            bad.append((signal.kind, reading))
    return Looking(view, params, memory, denials, limits, first, tuple(bad))


def _index(into: dict[str, Reason], guard: Code, why: Reason) -> None:
    """By the reason's code and the guard's; `flow.gas.acid` also counts as `flow.gas`. The first of a kind is kept."""
    into.setdefault(why.code, why)
    name: str = guard
    while "." in name:
        into.setdefault(name, why)
        name = name.rpartition(".")[0]


def _marked(marks: tuple[tuple[float, float], ...], clock_s: float, flow_s: float) -> tuple[tuple[float, float], ...]:
    if marks and clock_s - marks[-1][0] < HOUR_S:
        return marks
    return (*(mark for mark in marks if clock_s - mark[0] <= DAY_S + HOUR_S), (clock_s, flow_s))


def _change(row: Row, alarm: Alarm, name: str, view: AlarmView, by: str = "") -> AlarmChange:
    return AlarmChange(
        row.code,
        name,
        alarm.occurrence,
        row.priority_at(alarm.level),
        alarm.present,
        alarm.acked,
        alarm.latched,
        view.evidence.now,
        by,
        alarm.why,
    )


def _while_clear(
    row: Row,
    alarm: Alarm,
    finding: Reason | bool | None,
    hidden: bool,
    clock_s: float,
    scale_s: float,
    view: AlarmView,
    changes: list[AlarmChange],
) -> Alarm:
    if finding is None or finding is False:
        # Unknown keeps the delay running; clear ends it, and so does hiding. But not a delay in flow time, which stands still
        # while the pump is off: else a condition of 12 h of flow would never be seen where the pump stops each night.
        ended = finding is False or (hidden and row.scale is Scale.PLANT)
        return replace(alarm, pending_s=None) if ended and alarm.pending_s is not None else alarm
    pending_s = scale_s if alarm.pending_s is None else alarm.pending_s
    if scale_s - pending_s < row.on_delay_s:
        return alarm if alarm.pending_s is not None else replace(alarm, pending_s=pending_s)
    raised = Alarm(
        row.code,
        occurrence=alarm.occurrence + 1,
        present=True,
        acked=False,
        latched=row.latch,
        since=view.evidence.now,
        raised_s=clock_s,
        raised_scale_s=pending_s,
        why=finding if isinstance(finding, Reason) else None,
    )
    raised = _risen(row, raised, scale_s)
    changes.append(_change(row, raised, "raised", view))
    return raised


def _risen(row: Row, alarm: Alarm, scale_s: float) -> Alarm:
    """With the level its age asks for; age counts from the begin of the condition, not from the call."""
    level = sum(1 for age_s, _ in row.rises if scale_s - alarm.raised_scale_s >= age_s)
    return replace(alarm, level=level, acked=False) if level > alarm.level else alarm


def _while_present(
    row: Row,
    alarm: Alarm,
    finding: Reason | bool | None,
    clock_s: float,
    scale_s: float,
    view: AlarmView,
    changes: list[AlarmChange],
) -> Alarm:
    if finding is False:
        if alarm.pending_s is None and row.off_delay_s > 0.0:
            return replace(alarm, pending_s=clock_s)
        if alarm.pending_s is not None and clock_s - alarm.pending_s < row.off_delay_s:
            return alarm
        cleared = replace(alarm, present=False, pending_s=None, cleared_s=clock_s, latched=alarm.latched and not alarm.acked)
        changes.append(_change(row, cleared, "cleared", view))
        return cleared
    if finding is None:
        return alarm
    after = replace(alarm, pending_s=None) if alarm.pending_s is not None else alarm
    risen = _risen(row, after, scale_s) if row.rises else after
    if risen is not after:
        changes.append(_change(row, risen, "risen", view))
        return risen
    again_s = AGAIN_S.get(row.priority_at(after.level))
    if after.acked and after.answered_s is not None and again_s is not None and clock_s - after.answered_s >= again_s:
        after = replace(after, acked=False, answered_s=None)
        changes.append(_change(row, after, "again", view))
    return after


def _self_answered(
    row: Row, alarm: Alarm, params: AlarmParams, clock_s: float, view: AlarmView, changes: list[AlarmChange]
) -> Alarm:
    if alarm.cleared_s is None or clock_s - alarm.cleared_s < params.self_answer_h * HOUR_S:
        return alarm
    gone = replace(alarm, acked=True, answered_s=clock_s)
    changes.append(_change(row, gone, "let_go", view))
    return gone


def _answer(answer: Answered, known: dict[Code, Alarm], view: AlarmView, changes: list[AlarmChange]) -> None:
    """An answer covers only the occurrence it names; it never clears."""
    alarm = known.get(answer.alarm)
    row = next((entry for entry in ROWS if entry.code == answer.alarm), None)
    if alarm is None or row is None or alarm.occurrence != answer.occurrence or alarm.acked:
        return
    after = replace(
        alarm, acked=True, answered_s=view.evidence.clock_s, answered_by=answer.by, latched=alarm.latched and alarm.present
    )
    known[answer.alarm] = after
    changes.append(_change(row, after, "answered", view, answer.by))
