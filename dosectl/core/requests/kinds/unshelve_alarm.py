"""Unshelve an alarm: its true state shows at once, and it calls afresh if it still stands."""

from dosectl.core.requests.kind import (
    Argument,
    ArgumentType,
    Asked,
    Judgement,
    RequestKind,
    RequestView,
    Rights,
    granted,
    refused,
)
from dosectl.core.requests.listed import find
from dosectl.core.site import Site
from dosectl.model.alarm_acts import ActKind, AlarmAct
from dosectl.model.reasons import Code, ReasonKind

BACK = ReasonKind(Code("unshelve_alarm.done"), "{alarm} is off the shelf; it calls again if it still stands.")
NOT_SHELVED = ReasonKind(Code("unshelve_alarm.none"), "{alarm} is not shelved. Shelved: {alarms}.")


def judge(_site: Site, asked: Asked, view: RequestView) -> Judgement:
    """Ends the shelf early."""
    alarm = find(view.listed, asked.text("alarm"))
    if alarm is None or not alarm.shelved:
        names = ", ".join(entry.code for entry in view.listed if entry.shelved) or "none"
        return refused(asked.request, NOT_SHELVED, alarm=asked.text("alarm")[:60], alarms=names)
    return granted(asked, BACK, AlarmAct(ActKind.UNSHELVE, alarm.code, asked.request.by), alarm=alarm.code)


UNSHELVE_ALARM = RequestKind(
    code=Code("unshelve_alarm"),
    arguments=(Argument("alarm", ArgumentType.TEXT, "code of a shelved alarm"),),
    rights=Rights.ANYWHERE,
    help="Take an alarm off the shelf before its time.",
    answers=(BACK, NOT_SHELVED),
    judge=judge,
)
