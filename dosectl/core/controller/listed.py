"""The alarm list as requests may see it."""

from dosectl.core.alarms.aside import may_be_out, shelf_s
from dosectl.core.alarms.catalogue import ROWS
from dosectl.core.alarms.view import AlarmMemory
from dosectl.core.requests.listed import ListedAlarm


def listed(memory: AlarmMemory) -> tuple[ListedAlarm, ...]:
    """Every alarm of the list with what a person may do about it."""
    known = {alarm.code: alarm for alarm in memory.alarms}
    rows: list[ListedAlarm] = []
    for row in ROWS:
        alarm = known.get(row.code)
        rows.append(
            ListedAlarm(
                code=row.code,
                occurrence=0 if alarm is None else alarm.occurrence,
                standing=alarm is not None and not alarm.normal,
                priority=row.priority_at(0 if alarm is None else alarm.level).name.lower(),
                shelf_s_max=shelf_s(row, alarm),
                shelvings=0 if alarm is None else alarm.shelvings,
                shelved=alarm is not None and alarm.shelf is not None,
                out=alarm is not None and alarm.out is not None,
                may_be_out=may_be_out(row),
            )
        )
    return tuple(rows)
