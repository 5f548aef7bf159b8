"""Let a feeder run for some seconds: to prime it, or to measure its rate. Every interlock judges it and it is debited in full."""

from dosectl.core.requests.changes import Dispense
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

SECONDS_MAX = 60.0

ASKED = ReasonKind(
    Code("dispense.asked"),
    "{feeder} is asked to run {seconds} s, about {mass_mg_l} mg/L in the pool ({presence}). Every interlock judges it first.",
)
NO_FEEDER = ReasonKind(Code("dispense.none"), "There is no feeder '{feeder}'. Feeders: {feeders}.")
HELD = ReasonKind(Code("dispense.held"), "All feeding is stopped by hand or for service, so {feeder} can't run. End that first.")


def judge(site: Site, asked: Asked, view: RequestView) -> Judgement:
    """Passes the wish on; whether it runs is the interlocks' word."""
    feeder = next((entry for entry in site.feeders if entry.id == asked.text("feeder")), None)
    if feeder is None:
        return refused(
            asked.request, NO_FEEDER, feeder=asked.text("feeder")[:40], feeders=", ".join(entry.id for entry in site.feeders)
        )
    if view.standing.stop is not None or view.standing.service is not None:
        return refused(asked.request, HELD, feeder=str(feeder.id))
    seconds = asked.number("seconds")
    mass_mg_l = feeder.rate_g_s * seconds / site.pool.volume_m3
    change = Dispense(FeederId(feeder.id), seconds, asked.request.by, asked.presence_proven)
    presence = PRESENCE[asked.presence_proven]
    return granted(asked, ASKED, change, feeder=str(feeder.id), seconds=seconds, mass_mg_l=round(mass_mg_l, 3), presence=presence)


DISPENSE = RequestKind(
    code=Code("dispense"),
    arguments=(
        Argument("feeder", ArgumentType.TEXT, "which feeder"),
        Argument("seconds", ArgumentType.NUMBER, "how long", unit="s", ge=1.0, le=SECONDS_MAX),
    ),
    rights=Rights.AT_THE_PLANT,
    help="Run a feeder for up to a minute, standing beside it.",
    answers=(ASKED, NO_FEEDER, HELD),
    judge=judge,
)
