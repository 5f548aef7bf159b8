"""Answer an alarm: "I know". Never "fixed", never a reset."""

from dosectl.core.requests.changes import Answer
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
from dosectl.core.site import Site
from dosectl.model.reasons import Code, ReasonKind

ANSWERED = ReasonKind(
    Code("answer_alarm.done"), "Noted that {by} knows of {alarm}, occurrence {occurrence}. Its cause and its latch stay."
)
ALREADY = ReasonKind(Code("answer_alarm.already"), "{alarm}, occurrence {occurrence}, was answered before.")
NO_ALARM = ReasonKind(Code("answer_alarm.none"), "{alarm} is not standing. Standing alarms: {alarms}.")
NEWER = ReasonKind(
    Code("answer_alarm.newer"),
    "{alarm} has come again since: occurrence {now} stands, not {occurrence}. Look at it and answer that one.",
)
NOT_YET = ReasonKind(
    Code("answer_alarm.not_yet"),
    "There is no occurrence {occurrence} of {alarm}: the newest, which stands now, is {now}. Nothing was changed; "
    "answer that one.",
)


def judge(_site: Site, asked: Asked, view: RequestView) -> Judgement:
    """An answer covers only the occurrence it names."""
    code, occurrence = Code(asked.text("alarm")), int(asked.number("occurrence"))
    alarm = next((entry for entry in view.alarms if entry.code == code), None)
    if alarm is None:
        return refused(asked.request, NO_ALARM, alarm=code[:60], alarms=", ".join(entry.code for entry in view.alarms) or "none")
    if alarm.occurrence < occurrence:
        return refused(asked.request, NOT_YET, alarm=code, occurrence=occurrence, now=alarm.occurrence)
    if alarm.occurrence != occurrence:
        return refused(asked.request, NEWER, alarm=code, occurrence=occurrence, now=alarm.occurrence)
    if alarm.acked:
        return granted(asked, ALREADY, None, alarm=code, occurrence=occurrence)
    return granted(
        asked, ANSWERED, Answer(code, occurrence, asked.request.by), by=asked.request.by, alarm=code, occurrence=occurrence
    )


ANSWER_ALARM = RequestKind(
    code=Code("answer_alarm"),
    arguments=(
        Argument("alarm", ArgumentType.TEXT, "code of the alarm"),
        Argument("occurrence", ArgumentType.WHOLE, "which occurrence of it, as shown", ge=1, le=1e9),
    ),
    rights=Rights.ANYWHERE,
    help="Say that you know of an alarm.",
    answers=(ANSWERED, ALREADY, NO_ALARM, NEWER, NOT_YET),
    judge=judge,
)
