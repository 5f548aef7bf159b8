"""Mark an alarm as useless: it asked for nothing. Only counted: many such marks say that its limit wants review."""

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

MARKED = ReasonKind(
    Code("mark_useless.done"), "Noted that {alarm}, occurrence {occurrence}, was of no use to {by}. It changes nothing by itself."
)
NEVER_CAME = ReasonKind(Code("mark_useless.none"), "{alarm} has never come up, so there is nothing to judge.")


def judge(_site: Site, asked: Asked, view: RequestView) -> Judgement:
    """Notes the mark for the alarm's last occurrence."""
    alarm = find(view.listed, asked.text("alarm"))
    if alarm is None or alarm.occurrence == 0:
        return refused(asked.request, NEVER_CAME, alarm=asked.text("alarm")[:60])
    act = AlarmAct(ActKind.USELESS, alarm.code, asked.request.by, asked.text("note"))
    return granted(asked, MARKED, act, alarm=alarm.code, occurrence=alarm.occurrence, by=asked.request.by)


MARK_USELESS = RequestKind(
    code=Code("mark_useless"),
    arguments=(
        Argument("alarm", ArgumentType.TEXT, "code of the alarm"),
        Argument("note", ArgumentType.TEXT, "what it should have done instead", required=False),
    ),
    rights=Rights.ANYWHERE,
    help="Say that an alarm asked for nothing: three such marks in ten say that its limit wants review.",
    answers=(MARKED, NEVER_CAME),
    judge=judge,
)
