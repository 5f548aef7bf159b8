"""Which room's params stand where in the file. One line a room; guards come from their own registry."""

from collections.abc import Mapping
from typing import Any

from dosectl.core.alarms.params import AlarmParams
from dosectl.core.control.params import ControlParams
from dosectl.core.estimate.params import EstimateParams
from dosectl.core.interlocks import registry
from dosectl.core.probes.params import ProbeParams
from dosectl.core.site import Site
from dosectl.model.feeds import FeederId
from dosectl.model.ranges import check_ranges
from dosectl.settings.findings import Finding
from dosectl.settings.tables.sections import Section

ROOMS: tuple[Section, ...] = (
    Section("probes", ProbeParams),
    Section("estimate", EstimateParams),
    Section("control", ControlParams),
    Section("alarms", AlarmParams),
)


def sections() -> tuple[Section, ...]:
    """Every section of the rooms, in the order of the reference."""
    guards = tuple(Section(f"guards.{kind.code}", kind.params, kind.why) for kind in registry.KINDS if kind.params is not None)
    return (*ROOMS, *guards)


def bound(site: Site, params: Mapping[str, Any]) -> Mapping[str, frozenset[FeederId]]:
    """By guard code, whom its guards bind on this site; a kind that builds none binds nobody."""
    feeders: dict[str, frozenset[FeederId]] = {kind.code: frozenset() for kind in registry.KINDS}
    for guard in registry.build(site, params["guards"]):
        feeders[guard.code] = feeders.get(guard.code, frozenset()) | frozenset(guard.feeders)
    return feeders


def findings(params: Mapping[str, Any]) -> tuple[Finding, ...]:
    """What the rooms themselves refuse: a second look at the ranges, so that no way into the params goes round them."""
    rooms = {name: value for name, value in params.items() if name != "guards"}
    rooms |= {f"guards.{code}": value for code, value in params["guards"].items() if value is not None}
    return tuple(
        Finding(f"{path}.{name}", str(getattr(value, name)), "it lies outside its range", "see the settings reference")
        for path, value in rooms.items()
        for name in check_ranges(value)
    )
