"""Enter that a feeder's container was refilled."""

from dosectl.core.requests.changes import Refill
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
from dosectl.model.feeds import FeederId
from dosectl.model.reasons import Code, ReasonKind

REFILLED = ReasonKind(
    Code("refill.entered"),
    "Entered: the container of {feeder} holds {volume_ml} mL ({strength}). Is it the same product and strength?",
)
NO_CONTAINER = ReasonKind(Code("refill.none"), "{feeder} has no container to refill. Feeders that have one: {feeders}.")
TOO_MUCH = ReasonKind(
    Code("refill.too_much"),
    "{volume_ml} mL does not fit the container of {feeder}, which holds {container_ml} mL. Enter what is in it.",
)
LITRES = ReasonKind(
    Code("refill.litres"),
    "{volume_ml} mL or {guess} mL? {volume_ml} looks like litres; the container of {feeder} holds {container_ml} mL. "
    "Enter {guess}, or say that {volume_ml} mL is as you read it.",
)


def judge(site: Site, asked: Asked, view: RequestView) -> Judgement:
    """Takes what the container holds after the refill."""
    with_container = [feeder for feeder in site.feeders if feeder.container_ml > 0.0]
    feeder = next((entry for entry in with_container if entry.id == asked.text("feeder")), None)
    if feeder is None:
        names = ", ".join(entry.id for entry in with_container) or "none"
        return refused(asked.request, NO_CONTAINER, feeder=asked.text("feeder")[:40], feeders=names)
    volume_ml = asked.number("container_ml")
    if volume_ml > feeder.container_ml:
        return refused(asked.request, TOO_MUCH, volume_ml=volume_ml, feeder=str(feeder.id), container_ml=feeder.container_ml)
    if volume_ml * 1000.0 <= feeder.container_ml and not asked.yes("as_said"):
        guess = volume_ml * 1000.0
        return refused(
            asked.request, LITRES, volume_ml=volume_ml, guess=guess, feeder=str(feeder.id), container_ml=feeder.container_ml
        )
    change = Refill(FeederId(feeder.id), view.clock_s, volume_ml)
    return granted(asked, REFILLED, change, feeder=str(feeder.id), volume_ml=volume_ml, strength=feeder.strength_text)


REFILL = RequestKind(
    code=Code("refill"),
    arguments=(
        Argument("feeder", ArgumentType.TEXT, "whose container"),
        Argument("container_ml", ArgumentType.NUMBER, "what is in the container now", unit="mL", ge=1.0, le=1e6),
        Argument("as_said", ArgumentType.YES_NO, "the small figure is really meant in mL", required=False),
    ),
    rights=Rights.ANYWHERE,
    help="Enter that a container was refilled, with what it holds now.",
    answers=(REFILLED, NO_CONTAINER, TOO_MUCH, LITRES),
    judge=judge,
)
