"""What one step shows, sorted once for all rows; and which rows can change at all in it."""

from dosectl.core.alarms.catalogue import ROWS
from dosectl.core.alarms.conditions import ByGuard
from dosectl.core.alarms.params import AlarmParams
from dosectl.core.alarms.row import Looking, Row
from dosectl.core.alarms.view import AlarmMemory, AlarmView
from dosectl.model.reasons import Code, Reason
from dosectl.model.signals import Reading, SignalKind, Status
from dosectl.model.verdicts import Denial, Limit

ROWS_BY_OWN_EYES = tuple(row for row in ROWS if not isinstance(row.condition, ByGuard))
ROWS_BY_GUARD = {row.code: row for row in ROWS if isinstance(row.condition, ByGuard)}
ROWS_OF_OBJECTION = {
    code: tuple(row for row in ROWS_BY_GUARD.values() if isinstance(row.condition, ByGuard) and code in row.condition.codes)
    for code in {code for row in ROWS_BY_GUARD.values() if isinstance(row.condition, ByGuard) for code in row.condition.codes}
}


def rows_to_look_at(looking: Looking, memory: AlarmMemory) -> tuple[Row, ...]:
    """All rows that can change: a row that only asks guards can't, unless one of them objects or it is on the list or pending."""
    chosen: dict[Code, Row] = {}
    for code in (*looking.denials, *looking.limits):
        for row in ROWS_OF_OBJECTION.get(code, ()):
            chosen[row.code] = row
    for alarm in memory.alarms:
        if (not alarm.normal or alarm.pending_s is not None) and alarm.code in ROWS_BY_GUARD:
            chosen[alarm.code] = ROWS_BY_GUARD[alarm.code]
    return (*chosen.values(), *ROWS_BY_OWN_EYES) if chosen else ROWS_BY_OWN_EYES


def look(view: AlarmView, params: AlarmParams, memory: AlarmMemory) -> Looking:
    """The view with its objections and readings indexed."""
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
