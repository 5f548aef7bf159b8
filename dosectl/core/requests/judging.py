"""May this person ask this, from there, now? Pure: a request in, exactly one reply and at most one change out."""

from datetime import datetime
from difflib import get_close_matches
from math import isfinite

from dosectl.core.requests.kind import Argument, ArgumentType, Asked, Judgement, RequestKind, RequestView, Rights, refused
from dosectl.core.requests.registry import KINDS
from dosectl.core.site import Site
from dosectl.model.reasons import Code, Fact, ReasonKind
from dosectl.model.requests import Place, Request
from dosectl.model.signals import SignalKind

PRESENCE_S = 300.0
"""A press of the button at the plant proves presence for so long [s]."""

UNKNOWN_KIND = ReasonKind(Code("request.unknown"), "There is no request '{kind}'. Nearest: {nearest}.")
EXPIRED = ReasonKind(
    Code("request.expired"),
    "The request was valid until {expired} and came {late_s} s too late, so it was not done. Ask again if it is still wanted.",
)
BAD_ARGUMENT = ReasonKind(
    Code("request.argument"), "{argument}: found {found}; accepted is {accepted}. Correct it and ask again."
)
MISSING = ReasonKind(Code("request.missing"), "{argument} is missing: {help}.")
STRANGE = ReasonKind(Code("request.extra"), "'{argument}' is no argument of this request. Nearest: {nearest}.")
NOT_FROM_AFAR = ReasonKind(
    Code("request.remote"),
    "This starts or unlocks feeding and can't be asked from afar. Ask at the plant, or on the controller's own console.",
)
PRESS_FIRST = ReasonKind(
    Code("request.presence"),
    "This starts or unlocks feeding: press the button at the plant, then ask again within {within_s} s.",
)

ANSWERS: tuple[ReasonKind, ...] = (
    UNKNOWN_KIND,
    EXPIRED,
    BAD_ARGUMENT,
    MISSING,
    STRANGE,
    NOT_FROM_AFAR,
    PRESS_FIRST,
    *(answer for kind in KINDS for answer in kind.answers),
)


def judge(site: Site, request: Request, view: RequestView) -> Judgement:
    """Judges one request. An id seen before gets the same reply again and changes nothing."""
    before = view.seen.get(request.id)
    if before is not None:
        return Judgement(before, None)
    kind = next((row for row in KINDS if row.code == request.kind), None)
    if kind is None:
        return refused(
            request, UNKNOWN_KIND, kind=str(request.kind)[:40], nearest=_nearest(request.kind, [k.code for k in KINDS])
        )
    late_s = (view.now.utc - request.expires_utc).total_seconds()
    if late_s > 0.0 and not kind.late:
        return refused(request, EXPIRED, expired=request.expires_utc.isoformat(), late_s=round(late_s, 1))
    arguments: dict[str, Fact] = dict(request.arguments)
    wrong = _arguments(kind, request, arguments)
    if wrong is not None:
        return wrong
    pressed_s = view.standing.presence_s
    proven = pressed_s is not None and view.clock_s - pressed_s <= PRESENCE_S and request.place is not Place.REMOTE
    if kind.rights is Rights.AT_THE_PLANT:
        if request.place is Place.REMOTE:
            return refused(request, NOT_FROM_AFAR)
        if request.place is Place.PLANT and not proven and site.first(SignalKind.PRESENCE) is not None:
            return refused(request, PRESS_FIRST, within_s=PRESENCE_S)
    return kind.judge(site, Asked(request, arguments, proven), view)


def _arguments(kind: RequestKind, request: Request, arguments: dict[str, Fact]) -> Judgement | None:
    """A refusal where an argument has a wrong name, type or range; times and numbers are checked, not changed."""
    names = [argument.name for argument in kind.arguments]
    for name in arguments:
        if name not in names:
            return refused(request, STRANGE, argument=name[:40], nearest=_nearest(name, names))
    for argument in kind.arguments:
        if argument.name not in arguments:
            if argument.required:
                return refused(request, MISSING, argument=argument.name, help=argument.help)
        elif not _fits(argument, arguments[argument.name]):
            found = str(arguments[argument.name])[:60]
            return refused(request, BAD_ARGUMENT, argument=argument.name, found=found, accepted=_accepted(argument))
    return None


def _fits(argument: Argument, value: Fact) -> bool:
    match argument.type:
        case ArgumentType.YES_NO:
            return isinstance(value, bool)
        case ArgumentType.TEXT:
            return isinstance(value, str) and len(value) <= 200 and (not argument.choices or value in argument.choices)
        case ArgumentType.TIME:
            return isinstance(value, str) and _has_zone(value)
        case ArgumentType.WHOLE | ArgumentType.NUMBER:
            if isinstance(value, bool | str) or not isfinite(value):
                return False
            if argument.type is ArgumentType.WHOLE and value != int(value):
                return False
            return (argument.ge is None or value >= argument.ge) and (argument.le is None or value <= argument.le)


def _has_zone(text: str) -> bool:
    try:
        return datetime.fromisoformat(text).tzinfo is not None
    except ValueError:
        return False


def _accepted(argument: Argument) -> str:
    if argument.choices:
        return " | ".join(argument.choices)
    if argument.type is ArgumentType.TIME:
        return "a time with its zone, such as 2026-06-01T09:00:00+02:00"
    bounds = ""
    if argument.ge is not None and argument.le is not None:
        bounds = f" from {argument.ge:g} to {argument.le:g}"
    return f"a {argument.type}{bounds} {argument.unit}".rstrip()


def _nearest(word: str, known: list[str] | list[Code]) -> str:
    close = get_close_matches(word, known, n=1, cutoff=0.4)
    return close[0] if close else ", ".join(known)
