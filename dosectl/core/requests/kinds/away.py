"""Say that you go away, for how long; or that you are back. It feeds nothing and bars nothing: it only calls people sooner."""

from dataclasses import replace
from datetime import datetime, timedelta

from dosectl.core.requests.changes import BeAway, BeBack
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
from dosectl.model.absences import Absence, lasting
from dosectl.model.reasons import Code, ReasonKind

DAYS_MAX = 120.0
"""As far as readiness for an absence looks ahead."""

AWAY = ReasonKind(
    Code("away.done"),
    "Noted: away for {days} days. Each morning one line says that all is well, or what is not; the second person is called "
    "sooner. It ends by itself, or with: dosectl back.",
)
LONGER = ReasonKind(Code("away.changed"), "Noted: you were away already, and it now ends in {days} days.")
ONE_OF = ReasonKind(Code("away.one_of"), "Give exactly one of days and until: how long, or up to when. Nothing was changed.")
PAST = ReasonKind(Code("away.past"), "That is not ahead: it would end {late_h} h ago. Give the moment when you are back.")
TOO_LONG = ReasonKind(
    Code("away.too_long"), "{days} days is too far ahead; accepted are at most {most}. Say so again from there."
)
OUT = ReasonKind(
    Code("away.out"),
    "{alarms} is out of service: nobody would hear of it while you are away. Put it back first: dosectl restore {alarms}.",
)
BACK = ReasonKind(Code("back.done"), "Welcome back after {days} days. What happened meanwhile: dosectl account.")
NOT_AWAY = ReasonKind(Code("back.none"), "Nobody is away, so nothing was changed.")


def judge(_site: Site, asked: Asked, view: RequestView) -> Judgement:
    """Takes an end that lies ahead, as long as no alarm is out of service."""
    until = asked.text("until")
    if bool(until) is ("days" in asked.arguments):
        return refused(asked.request, ONE_OF)
    end = datetime.fromisoformat(until) if until else view.now.utc + timedelta(days=asked.number("days"))
    left_s = (end - view.now.utc).total_seconds()
    days = round(left_s / 86400.0, 1)
    if left_s <= 0.0:
        return refused(asked.request, PAST, late_h=round(-left_s / 3600.0, 1))
    if left_s > DAYS_MAX * 86400.0:
        return refused(asked.request, TOO_LONG, days=days, most=DAYS_MAX)
    out = [str(alarm.code) for alarm in view.listed if alarm.out]
    if out:
        return refused(asked.request, OUT, alarms=", ".join(out))
    before = lasting(view.absences)
    end = end.astimezone(view.now.utc.tzinfo)
    if before is not None:
        return granted(asked, LONGER, BeAway(replace(before, until=end, until_s=view.clock_s + left_s)), days=days)
    return granted(
        asked, AWAY, BeAway(Absence(asked.request.by, view.now.utc, view.clock_s, end, view.clock_s + left_s)), days=days
    )


def judge_back(_site: Site, asked: Asked, view: RequestView) -> Judgement:
    """Ends the absence that lasts."""
    before = lasting(view.absences)
    if before is None:
        return refused(asked.request, NOT_AWAY)
    days = round((view.clock_s - before.begun_s) / 86400.0, 1)
    return granted(asked, BACK, BeBack(view.now.utc, view.clock_s), days=days)


GO_AWAY = RequestKind(
    code=Code("go_away"),
    arguments=(
        Argument("days", ArgumentType.NUMBER, "for how many days", unit="days", ge=0.01, le=DAYS_MAX, required=False),
        Argument("until", ArgumentType.TIME, "or up to when", required=False),
    ),
    rights=Rights.ANYWHERE,
    help="Say that you are away: people are called sooner, and each morning one line says whether all is well.",
    answers=(AWAY, LONGER, ONE_OF, PAST, TOO_LONG, OUT),
    judge=judge,
)

COME_BACK = RequestKind(
    code=Code("come_back"),
    arguments=(),
    rights=Rights.ANYWHERE,
    help="Say that you are back, and get the account of what happened.",
    answers=(BACK, NOT_AWAY),
    judge=judge_back,
)
