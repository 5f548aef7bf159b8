"""Set the service lockout: somebody works at the plant."""

from dosectl.core.requests.changes import ServiceOn
from dosectl.core.requests.kind import (
    Argument,
    ArgumentType,
    Asked,
    Judgement,
    RequestKind,
    RequestView,
    Rights,
    granted,
)
from dosectl.core.site import Site
from dosectl.model.reasons import Code, ReasonKind

IN_SERVICE = ReasonKind(
    Code("stop.service"),
    "{by} works at the plant since {since}: nothing is fed. It ends only when the same person ends it there.",
)
DONE = ReasonKind(
    Code("service_on.done"),
    "Service lockout set for {by}: nothing is fed until it is ended at the plant. Switch the feeders' isolator off too.",
)
ALREADY = ReasonKind(Code("service_on.already"), "The service lockout of {by} stands already; nothing is fed.")


def judge(_site: Site, asked: Asked, view: RequestView) -> Judgement:
    """Always done."""
    if view.standing.service is not None:
        return granted(asked, ALREADY, None, by=str(view.standing.service.fact("by") or "-"))
    why = IN_SERVICE.because(view.now, by=asked.request.by, place=asked.request.place.value, note=asked.text("note"))
    return granted(asked, DONE, ServiceOn(why), by=asked.request.by)


SERVICE_ON = RequestKind(
    code=Code("service_on"),
    arguments=(Argument("note", ArgumentType.TEXT, "what is done at the plant, for the record", required=False),),
    rights=Rights.ANYWHERE,
    help="Set the service lockout before anybody works on pipes, containers or feeders.",
    answers=(IN_SERVICE, DONE, ALREADY),
    judge=judge,
    late=True,
)
