"""Take an alarm out of service: what it watches is away for repair. At most seven days; never where people may be hurt."""

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

DAY_S = 86400.0
DAYS_MAX = 7.0

TAKEN = ReasonKind(
    Code("take_out_of_service.done"),
    "{alarm} is out of service for {days} days by {by}: {reason}. It calls nobody meanwhile; every interlock goes on.",
)
UNKNOWN = ReasonKind(Code("take_out_of_service.unknown"), "There is no alarm '{alarm}'. 'dosectl reference alarms' lists them.")
BARRED = ReasonKind(
    Code("take_out_of_service.critical"), "{alarm} may become critical: it stays in service. Have its cause mended instead."
)
ALREADY = ReasonKind(
    Code("take_out_of_service.already"), "{alarm} is out of service already. Put it back first to set another time."
)
NO_REASON = ReasonKind(
    Code("take_out_of_service.reason"), "Say in a few words why: the next person has to know. '{reason}' is too short."
)


def judge(_site: Site, asked: Asked, view: RequestView) -> Judgement:
    """Takes one alarm of the list out, standing or not."""
    code, days, reason = asked.text("alarm"), asked.number("days"), asked.text("reason").strip()
    alarm = find(view.listed, code)
    if alarm is None:
        return refused(asked.request, UNKNOWN, alarm=code[:60])
    if not alarm.may_be_out:
        return refused(asked.request, BARRED, alarm=code)
    if alarm.out:
        return refused(asked.request, ALREADY, alarm=code)
    if len(reason) < 3:
        return refused(asked.request, NO_REASON, reason=reason)
    act = AlarmAct(ActKind.TAKE_OUT, alarm.code, asked.request.by, reason, days * DAY_S)
    return granted(asked, TAKEN, act, alarm=code, days=days, by=asked.request.by, reason=reason)


TAKE_OUT_OF_SERVICE = RequestKind(
    code=Code("take_out_of_service"),
    arguments=(
        Argument("alarm", ArgumentType.TEXT, "code of the alarm"),
        Argument("days", ArgumentType.NUMBER, "for how long", unit="d", ge=0.1, le=DAYS_MAX),
        Argument("reason", ArgumentType.TEXT, "why, for the next person"),
    ),
    rights=Rights.ANYWHERE,
    help="Take an alarm out of service while what it watches can't be mended, at most 7 days.",
    answers=(TAKEN, UNKNOWN, BARRED, ALREADY, NO_REASON),
    judge=judge,
)
