"""Who must know: a fault or state that needs a response. Alarms stop nothing; interlocks did that already."""

from dosectl.core.alarms.calls import CallPlan, calls
from dosectl.core.alarms.catalogue import ROWS, row_of
from dosectl.core.alarms.causes import CAUSES
from dosectl.core.alarms.naming import StateName, state_of
from dosectl.core.alarms.params import AlarmParams
from dosectl.core.alarms.priority import Priority
from dosectl.core.alarms.states import standing, update
from dosectl.core.alarms.view import Alarm, AlarmChange, AlarmMemory, AlarmView

__all__ = [
    "CAUSES",
    "ROWS",
    "Alarm",
    "AlarmChange",
    "AlarmMemory",
    "AlarmParams",
    "AlarmView",
    "CallPlan",
    "Priority",
    "StateName",
    "calls",
    "row_of",
    "standing",
    "state_of",
    "update",
]
