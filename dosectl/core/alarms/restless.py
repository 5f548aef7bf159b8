"""An alarm that comes and goes: its off-delay grows until it stays on, and it is one line instead of many calls."""

from dataclasses import replace

from dosectl.core.alarms.row import Row
from dosectl.core.alarms.view import Alarm

QUICK_S, QUICK_CHANGES = 600.0, 3
DAY_S, DAY_CHANGES = 86400.0, 6
GROWTH = 3.0
OFF_DELAY_S_MAX = 6 * 3600.0
OFF_DELAY_S_MIN = 60.0  # what grows where the row has no off-delay
GROWN_MAX = 6  # 60 s x 3^6 is more than the longest delay


def off_delay_s(row: Row, alarm: Alarm) -> float:
    """How long the condition must be gone [s]."""
    if alarm.restless == 0:
        return row.off_delay_s
    return max(row.off_delay_s, min(OFF_DELAY_S_MAX, max(row.off_delay_s, OFF_DELAY_S_MIN) * GROWTH**alarm.restless))


def edge(alarm: Alarm, clock_s: float, *, comes: bool) -> Alarm:
    """With one more change at `clock_s`: restless once there are too many, calm again after a day without any."""
    recent = tuple(at_s for at_s in alarm.edges_s if clock_s - at_s < DAY_S)
    if not recent and alarm.restless:
        alarm = replace(alarm, restless=0, came=0)
    edges = (*recent, clock_s)
    quick = sum(1 for at_s in edges if clock_s - at_s < QUICK_S)
    if quick > QUICK_CHANGES or len(edges) > DAY_CHANGES:
        came = alarm.came if alarm.restless else (len(edges) + 1) // 2 - (1 if comes else 0)
        grown = replace(alarm, edges_s=(clock_s,), restless=min(alarm.restless + 1, GROWN_MAX), came=came)
    else:
        grown = replace(alarm, edges_s=edges)
    return replace(grown, came=grown.came + 1) if comes and grown.restless else grown
