"""End the manual stop."""

from dosectl.core.requests.changes import Release
from dosectl.core.requests.kind import (
    PRESENCE,
    Asked,
    Judgement,
    RequestKind,
    RequestView,
    Rights,
    granted,
)
from dosectl.core.site import Site
from dosectl.model.reasons import Code, ReasonKind

RELEASED = ReasonKind(
    Code("release.done"),
    "The stop by {stopped_by} is ended ({presence}). Feeding starts again only where every interlock permits it.",
)
NOT_STOPPED = ReasonKind(Code("release.none"), "Feeding was not stopped by hand. What else holds it stands with each feeder.")


def judge(_site: Site, asked: Asked, view: RequestView) -> Judgement:
    """Ends the stop; clearing never starts a feed by itself."""
    stop = view.standing.stop
    if stop is None:
        return granted(asked, NOT_STOPPED, None)
    change = Release(asked.request.by, asked.presence_proven)
    return granted(asked, RELEASED, change, stopped_by=str(stop.fact("by") or "-"), presence=PRESENCE[asked.presence_proven])


RELEASE = RequestKind(
    code=Code("release"),
    arguments=(),
    rights=Rights.AT_THE_PLANT,
    help="End the manual stop of all feeding.",
    answers=(RELEASED, NOT_STOPPED),
    judge=judge,
)
