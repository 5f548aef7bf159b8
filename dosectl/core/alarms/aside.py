"""Shelf and out of service: a person puts an alarm aside for a while. It touches no interlock and ends by itself."""

from collections.abc import Mapping
from dataclasses import replace

from dosectl.core.alarms.catalogue import BY_CODE
from dosectl.core.alarms.priority import Priority
from dosectl.core.alarms.row import Row
from dosectl.core.alarms.telling import change_of
from dosectl.core.alarms.view import Alarm, AlarmChange, AlarmView, Aside
from dosectl.model.alarm_acts import ActKind, AlarmAct
from dosectl.model.reasons import Code

HOUR_S = 3600.0
DAY_S = 86400.0

# How long at most, by priority; critical never. Proposed judgement: long enough to mend, short enough not to be forgotten.
SHELF_S: Mapping[Priority, float] = {
    Priority.NOTICE: 7 * DAY_S,
    Priority.LOW: 7 * DAY_S,
    Priority.MEDIUM: DAY_S,
    Priority.HIGH: 4 * HOUR_S,
}
OUT_S = 7 * DAY_S
SHELVED_AT_ONCE = 3


def may_be_out(row: Row) -> bool:
    """Whether this alarm may be taken out of service: never where people may be hurt at once, at any of its levels."""
    return Priority.CRITICAL not in (row.priority, *(priority for _, priority in row.rises))


def shelf_s(row: Row, alarm: Alarm | None) -> float:
    """How long it may be shelved at its present level [s]; 0 where never."""
    return SHELF_S.get(row.priority_at(0 if alarm is None else alarm.level), 0.0)


def act_on(act: AlarmAct, known: dict[Code, Alarm], view: AlarmView, changes: list[AlarmChange]) -> None:
    """Does what was granted. The limits hold here too: no way round the judging may silence what must be heard."""
    row = BY_CODE.get(act.alarm)
    if row is None:
        return
    alarm = known.get(act.alarm) or Alarm(act.alarm)
    clock_s, now = view.evidence.clock_s, view.evidence.now
    after = alarm
    match act.kind:
        case ActKind.SHELVE:
            after = _shelved(row, alarm, act, known, view, changes)
        case ActKind.TAKE_OUT:
            if may_be_out(row) and act.for_s > 0.0:
                after = replace(alarm, out=Aside(clock_s + min(act.for_s, OUT_S), now, act.by, act.reason))
                changes.append(change_of(row, after, "taken_out", view, act.by, act.reason))
        case ActKind.UNSHELVE:
            if alarm.shelf is not None:
                after = _back(row, replace(alarm, shelf=None), "unshelved", view, changes, act.by)
        case ActKind.BACK_IN:
            if alarm.out is not None:
                after = _back(row, replace(alarm, out=None), "back_in", view, changes, act.by)
        case ActKind.USELESS:
            if alarm.occurrence > 0:
                changes.append(change_of(row, alarm, "useless", view, act.by, act.reason))
    if after is not alarm:
        known[act.alarm] = after


def _shelved(
    row: Row, alarm: Alarm, act: AlarmAct, known: dict[Code, Alarm], view: AlarmView, changes: list[AlarmChange]
) -> Alarm:
    for_s = min(act.for_s, shelf_s(row, alarm))
    shelved = sum(1 for other in known.values() if other.shelf is not None and other.code != act.alarm)
    if for_s <= 0.0 or shelved >= SHELVED_AT_ONCE or alarm.normal:
        return alarm
    aside = Aside(view.evidence.clock_s + for_s, view.evidence.now, act.by, act.reason)
    after = replace(alarm, shelf=aside, shelvings=alarm.shelvings + 1)
    changes.append(change_of(row, after, "shelved", view, act.by, act.reason))
    return after


def end_asides(known: dict[Code, Alarm], view: AlarmView, changes: list[AlarmChange]) -> None:
    """What was put aside long enough shows its true state again, and calls afresh where it still stands."""
    clock_s = view.evidence.clock_s
    for alarm in tuple(known.values()):
        if alarm.shelf is None and alarm.out is None:
            continue
        row, after = BY_CODE.get(alarm.code), alarm
        if row is None:
            continue
        if after.shelf is not None and clock_s >= after.shelf.until_s:
            after = _back(row, replace(after, shelf=None), "unshelved", view, changes)
        if after.out is not None and clock_s >= after.out.until_s:
            after = _back(row, replace(after, out=None), "back_in", view, changes)
        known[alarm.code] = after


def _back(row: Row, alarm: Alarm, change: str, view: AlarmView, changes: list[AlarmChange], by: str = "") -> Alarm:
    after = replace(alarm, acked=False, answered_s=None) if alarm.present else alarm
    changes.append(change_of(row, after, change, view, by))
    return after
