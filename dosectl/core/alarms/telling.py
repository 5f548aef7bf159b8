"""An alarm's transition as a record."""

from dosectl.core.alarms.row import Row
from dosectl.core.alarms.view import Alarm, AlarmChange, AlarmView


def change_of(row: Row, alarm: Alarm, name: str, view: AlarmView, by: str = "", note: str = "") -> AlarmChange:
    """The change with the state after it."""
    return AlarmChange(
        code=row.code,
        change=name,
        occurrence=alarm.occurrence,
        priority=row.priority_at(alarm.level),
        present=alarm.present,
        acked=alarm.acked,
        latched=alarm.latched,
        at=view.evidence.now,
        by=by,
        why=alarm.why,
        note=note,
    )
