"""Stop all feeding. Asks nothing, is never too late, and may come from anywhere."""

from dosectl.core.requests.changes import Stop
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

STOPPED = ReasonKind(
    Code("stop.manual"), "All feeding was stopped by {by} since {since}. It starts again only when it is released at the plant."
)
DONE = ReasonKind(Code("stop.done"), "All feeding is stopped. Only a release at the plant lets it start again.")
ALREADY = ReasonKind(Code("stop.already"), "All feeding was stopped before and stays stopped.")


def judge(_site: Site, asked: Asked, view: RequestView) -> Judgement:
    """Always done."""
    if view.standing.stop is not None:
        return granted(asked, ALREADY, None)
    why = STOPPED.because(view.now, by=asked.request.by, place=asked.request.place.value, note=asked.text("note"))
    return granted(asked, DONE, Stop(why))


STOP = RequestKind(
    code=Code("stop"),
    arguments=(Argument("note", ArgumentType.TEXT, "why, for the record", required=False),),
    rights=Rights.ANYWHERE,
    help="Stop all feeding at once.",
    answers=(STOPPED, DONE, ALREADY),
    judge=judge,
    late=True,
)
