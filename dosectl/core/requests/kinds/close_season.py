"""Close the season: all feeding stops until it is released at the plant, and what a resting pool does not need stays quiet."""

from dosectl.core.evidence import SEASON_CLOSED
from dosectl.core.requests.changes import Stop
from dosectl.core.requests.kind import (
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

CLOSED = ReasonKind(
    SEASON_CLOSED, "The season was closed by {by} since {since}: nothing is fed. It opens when that is released at the plant."
)
DONE = ReasonKind(
    Code("close_season.done"),
    "The season is closed: nothing is fed. Frost, water flow, the nodes and the calls are still watched. "
    "It opens with a release at the plant: dosectl release.",
)
ALREADY = ReasonKind(Code("close_season.already"), "The season was closed before and stays closed.")

STOPPED = ReasonKind(
    Code("close_season.stopped"),
    "Feeding was stopped by a person, for a reason of its own. Look at that first and release it at the plant, then close.",
)


def judge(_site: Site, asked: Asked, view: RequestView) -> Judgement:
    """Done unless a person's stop stands: that has its own reason and alarm, which closing must not cover."""
    if view.standing.stop is not None and view.standing.stop.code == SEASON_CLOSED:
        return granted(asked, ALREADY, None)
    if view.standing.stop is not None:
        return refused(asked.request, STOPPED)
    why = CLOSED.because(view.now, by=asked.request.by, place=asked.request.place.value)
    return granted(asked, DONE, Stop(why))


CLOSE_SEASON = RequestKind(
    code=Code("close_season"),
    arguments=(),
    rights=Rights.ANYWHERE,
    help="Close the season: nothing is fed, and alarms that a resting pool does not need stay quiet.",
    answers=(CLOSED, DONE, ALREADY, STOPPED),
    judge=judge,
)
