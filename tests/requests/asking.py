"""A site with a pump each for acid and chlorine, a cell, and an easy way to ask."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta

from dosectl.core.evidence import Standing
from dosectl.core.requests import Judgement, RequestView, judge
from dosectl.core.site import Feeder, Pool, Signal, Site
from dosectl.model.feeds import FeederId, Substance
from dosectl.model.instant import Instant
from dosectl.model.reasons import Code, Fact
from dosectl.model.requests import Place, Request, RequestId
from dosectl.model.signals import NodeId, SignalId, SignalKind

UTC_NOW = datetime(2026, 6, 1, 10, 0, tzinfo=UTC)
NOW = Instant(5000.0, UTC_NOW, "b1")


def feeder(name: str, substance: Substance, kind: str, container_ml: float) -> Feeder:
    return Feeder(
        FeederId(name), substance, kind, 0.02, False, substance.value, 5.0, 600.0, 60.0, None, True, None, container_ml, 8.0,
        "12.5 %", NodeId("n1"), kind == "cell", 75.0, f"digest-{name}",
    )  # fmt: skip


SITE = Site(
    "one",
    Pool("home", "Home", 50.0, 45.0, 8.0, "Europe/Rome", 50.0, 80.0, 200.0, 3.2),
    (),
    (
        feeder("cell", Substance.CHLORINE, "cell", 0.0),
        feeder("acid", Substance.ACID, "pump", 20000.0),
    ),
    5.0,
    10.0,
    "d",
)
BUTTON = replace(SITE, signals=(Signal(SignalId("button"), SignalKind.PRESENCE, 30.0, 10.0),))
VIEW = RequestView(90000.0, NOW, Standing(), (), (), (), {})


def request(kind: str, place: Place = Place.CONSOLE, late_s: float = -60.0, by: str = "anna", **arguments: Fact) -> Request:
    expires = UTC_NOW - timedelta(seconds=late_s)
    return Request(RequestId("r1"), Code(kind), tuple(arguments.items()), by, place, expires)


def ask(kind: str, view: RequestView = VIEW, site: Site = SITE, **more: Fact) -> Judgement:
    return judge(site, request(kind, **more), view)  # type: ignore[arg-type]
