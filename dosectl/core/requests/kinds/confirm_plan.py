"""Confirm a changed configuration of a feeder from the before/after sheet."""

from dosectl.core.requests.changes import ConfirmConfig
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
from dosectl.model.feeds import FeederId
from dosectl.model.reasons import Code, ReasonKind

CONFIRMED = ReasonKind(
    Code("confirm_plan.done"), "The settings of {feeder} ({digest}) are confirmed ({presence}); every interlock still judges it."
)
ALREADY = ReasonKind(Code("confirm_plan.already"), "The settings of {feeder} ({digest}) are confirmed already.")
NO_FEEDER = ReasonKind(Code("confirm_plan.none"), "There is no feeder '{feeder}'. Feeders: {feeders}.")
OTHER = ReasonKind(
    Code("confirm_plan.other"),
    "{feeder} runs with settings {now}, the sheet you read was for {digest}. Read the sheet again and confirm that one.",
)


def judge(site: Site, asked: Asked, view: RequestView) -> Judgement:
    """Confirms exactly the settings that run and were read."""
    feeder = next((entry for entry in site.feeders if entry.id == asked.text("feeder")), None)
    if feeder is None:
        return refused(
            asked.request, NO_FEEDER, feeder=asked.text("feeder")[:40], feeders=", ".join(entry.id for entry in site.feeders)
        )
    digest = asked.text("digest")
    if digest != feeder.digest:
        return refused(asked.request, OTHER, feeder=str(feeder.id), now=feeder.digest, digest=digest[:60])
    if (feeder.id, digest) in view.standing.confirmed:
        return granted(asked, ALREADY, None, feeder=str(feeder.id), digest=digest)
    change = ConfirmConfig(FeederId(feeder.id), digest, asked.request.by, asked.presence_proven)
    return granted(asked, CONFIRMED, change, feeder=str(feeder.id), digest=digest, presence=PRESENCE[asked.presence_proven])


CONFIRM_PLAN = RequestKind(
    code=Code("confirm_plan"),
    arguments=(
        Argument("feeder", ArgumentType.TEXT, "whose settings"),
        Argument("digest", ArgumentType.TEXT, "digest at the foot of the sheet that was read"),
    ),
    rights=Rights.AT_THE_PLANT,
    help="Confirm changed settings of a feeder after reading what they mean in mg/L and pH.",
    answers=(CONFIRMED, ALREADY, NO_FEEDER, OTHER),
    judge=judge,
)
