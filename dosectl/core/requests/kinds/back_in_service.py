"""Put an alarm back in service: its true state shows at once, and it calls afresh if it stands."""

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

BACK = ReasonKind(Code("back_in_service.done"), "{alarm} is back in service; it calls if it stands.")
NOT_OUT = ReasonKind(Code("back_in_service.none"), "{alarm} is not out of service. Out of service: {alarms}.")


def judge(_site: Site, asked: Asked, view: RequestView) -> Judgement:
    """Ends the time out of service early."""
    alarm = find(view.listed, asked.text("alarm"))
    if alarm is None or not alarm.out:
        names = ", ".join(entry.code for entry in view.listed if entry.out) or "none"
        return refused(asked.request, NOT_OUT, alarm=asked.text("alarm")[:60], alarms=names)
    return granted(asked, BACK, AlarmAct(ActKind.BACK_IN, alarm.code, asked.request.by), alarm=alarm.code)


BACK_IN_SERVICE = RequestKind(
    code=Code("back_in_service"),
    arguments=(Argument("alarm", ArgumentType.TEXT, "code of an alarm that is out of service"),),
    rights=Rights.ANYWHERE,
    help="Put an alarm back in service before its time.",
    answers=(BACK, NOT_OUT),
    judge=judge,
)
