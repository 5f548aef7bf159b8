"""End the service lockout: the person who set it is done."""

from dosectl.core.requests.changes import ServiceOff
from dosectl.core.requests.kind import (
    PRESENCE,
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

ENDED = ReasonKind(
    Code("service_off.done"),
    "The service lockout of {set_by} is ended ({presence}). Feeding starts again only where every interlock permits it.",
)
NOT_SET = ReasonKind(Code("service_off.none"), "No service lockout is set.")
NOT_YOURS = ReasonKind(
    Code("service_off.other"),
    "The service lockout was set by {set_by}, who may still be working there. Let {set_by} end it; or see for yourself that "
    "nobody works at the plant and ask again in the stead of {set_by}.",
)


def judge(_site: Site, asked: Asked, view: RequestView) -> Judgement:
    """Ended by the person who set it, or by one who names that person."""
    service = view.standing.service
    if service is None:
        return granted(asked, NOT_SET, None)
    set_by = str(service.fact("by") or "-")
    if asked.request.by != set_by and asked.text("in_stead_of") != set_by:
        return refused(asked.request, NOT_YOURS, set_by=set_by)
    change = ServiceOff(asked.request.by, asked.presence_proven)
    return granted(asked, ENDED, change, set_by=set_by, presence=PRESENCE[asked.presence_proven])


SERVICE_OFF = RequestKind(
    code=Code("service_off"),
    arguments=(Argument("in_stead_of", ArgumentType.TEXT, "the person who set it, where somebody else ends it", required=False),),
    rights=Rights.AT_THE_PLANT,
    help="End the service lockout when the work is done and nobody is at the pipes.",
    answers=(ENDED, NOT_SET, NOT_YOURS),
    judge=judge,
)
