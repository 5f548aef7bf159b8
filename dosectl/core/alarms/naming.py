"""The name of an alarm's state, derived from its independent facts.

States after ISA-18.2 / IEC 62682 (from memory, unchecked).
"""

from enum import StrEnum

from dosectl.core.alarms.view import Alarm


class StateName(StrEnum):
    NORMAL = "normal"
    UNACKED = "unanswered"
    ACKED = "answered"
    RETURNED = "gone, unanswered"
    LATCHED_UNACKED = "latched, unanswered"
    LATCHED_ACKED = "latched, answered"
    SHELVED = "shelved"
    SUPPRESSED = "suppressed by design"
    OUT_OF_SERVICE = "out of service"


def state_of(alarm: Alarm) -> StateName:
    """One name for every combination of facts. What a person put aside names itself first, what is normal is not suppressed."""
    if alarm.out is not None:
        return StateName.OUT_OF_SERVICE
    if alarm.shelf is not None:
        return StateName.SHELVED
    if alarm.normal:
        return StateName.NORMAL
    if alarm.hidden is not None:
        return StateName.SUPPRESSED
    if alarm.present:
        return StateName.ACKED if alarm.acked else StateName.UNACKED
    if alarm.latched:
        return StateName.LATCHED_ACKED if alarm.acked else StateName.LATCHED_UNACKED
    return StateName.RETURNED
