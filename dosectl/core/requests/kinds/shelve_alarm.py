"""Shelve an alarm: it calls nobody for a while. It stays on a list of its own, and no interlock knows of it."""

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
from dosectl.model.requests import Place

HOUR_S = 3600.0
AT_ONCE_MAX = 3

SHELVED = ReasonKind(
    Code("shelve_alarm.done"), "{alarm} is shelved for {hours} h by {by}: {reason}. It calls again if it still stands then."
)
NOT_STANDING = ReasonKind(
    Code("shelve_alarm.none"), "{alarm} is not standing, so there is nothing to shelve. Standing: {alarms}."
)
NEVER = ReasonKind(
    Code("shelve_alarm.critical"), "{alarm} is critical: it can't be shelved. Say that you know of it, and have its cause mended."
)
TOO_LONG = ReasonKind(
    Code("shelve_alarm.long"), "{alarm} is {priority} and may be shelved for at most {most_h} h, not {hours} h. Ask for less."
)
FULL = ReasonKind(Code("shelve_alarm.full"), "{count} alarms are shelved, which is the most: {alarms}. Unshelve one first.")
ALREADY = ReasonKind(Code("shelve_alarm.already"), "{alarm} is shelved already. Unshelve it to shelve it anew.")
AGAIN = ReasonKind(
    Code("shelve_alarm.again"),
    "{alarm} was shelved before and still stands. A second time in a row only somebody at the plant may shelve it.",
)
NO_REASON = ReasonKind(
    Code("shelve_alarm.reason"), "Say in a few words why: the next person has to know. '{reason}' is too short."
)


def judge(_site: Site, asked: Asked, view: RequestView) -> Judgement:
    """Shelves one standing alarm within the limits of its priority."""
    code, hours, reason = asked.text("alarm"), asked.number("hours"), asked.text("reason").strip()
    alarm = find(view.listed, code)
    if alarm is None or not alarm.standing:
        names = ", ".join(entry.code for entry in view.listed if entry.standing) or "none"
        return refused(asked.request, NOT_STANDING, alarm=code[:60], alarms=names)
    if alarm.shelf_s_max <= 0.0:
        return refused(asked.request, NEVER, alarm=code)
    if alarm.shelved:
        return refused(asked.request, ALREADY, alarm=code)
    if len(reason) < 3:
        return refused(asked.request, NO_REASON, reason=reason)
    if hours * HOUR_S > alarm.shelf_s_max:
        most_h = alarm.shelf_s_max / HOUR_S
        return refused(asked.request, TOO_LONG, alarm=code, priority=alarm.priority, most_h=most_h, hours=hours)
    shelved = [entry.code for entry in view.listed if entry.shelved]
    if len(shelved) >= AT_ONCE_MAX:
        return refused(asked.request, FULL, count=len(shelved), alarms=", ".join(shelved))
    if alarm.shelvings > 0 and asked.request.place is Place.REMOTE:
        return refused(asked.request, AGAIN, alarm=code)
    act = AlarmAct(ActKind.SHELVE, alarm.code, asked.request.by, reason, hours * HOUR_S)
    return granted(asked, SHELVED, act, alarm=code, hours=hours, by=asked.request.by, reason=reason)


SHELVE_ALARM = RequestKind(
    code=Code("shelve_alarm"),
    arguments=(
        Argument("alarm", ArgumentType.TEXT, "code of a standing alarm"),
        Argument("hours", ArgumentType.NUMBER, "for how long", unit="h", ge=0.1, le=168.0),
        Argument("reason", ArgumentType.TEXT, "why, for the next person"),
    ),
    rights=Rights.ANYWHERE,
    help="Silence a standing alarm for some hours: low 168, medium 24, high 4, critical never.",
    answers=(SHELVED, NOT_STANDING, NEVER, TOO_LONG, FULL, ALREADY, AGAIN, NO_REASON),
    judge=judge,
)
