"""Which room's params stand where in the file. One line a room; guards come from their own registry."""

import dataclasses
from collections.abc import Iterator, Mapping
from typing import Any

from dosectl.core.alarms.params import AlarmParams
from dosectl.core.control.params import ControlParams
from dosectl.core.estimate.params import EstimateParams
from dosectl.core.interlocks import registry
from dosectl.core.probes.params import ProbeParams
from dosectl.core.site import Site
from dosectl.model.feeds import FeederId
from dosectl.model.ranges import check_ranges
from dosectl.settings.findings import Finding, shown
from dosectl.settings.tables.sections import Section, is_minimum

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


def without_findings(site: Site) -> tuple[Finding, ...]:
    """Names among the interlocks that the pool is said to do without that are none, or none that could be off."""
    kinds = {str(kind.code) for kind in registry.KINDS if kind.fits is not None}
    why, do = "no interlock of that name can be done without", f"choose from: {', '.join(sorted(kinds))}"
    return tuple(Finding("pool.without", shown(name), why, do) for name in site.pool.without if name not in kinds)


def without_warnings(site: Site, params: Mapping[str, Any]) -> tuple[str, ...]:
    """Interlocks that are off and not named, and those named that are not off."""
    off = registry.unfitted(site, params["guards"])
    unnamed = [name for name in off if name not in site.pool.without]
    told = [
        f"pool.without names {name}, which is not off here, or has nothing to do: take it out, else its end would go untold"
        for name in site.pool.without
        if name not in off
    ]
    if unnamed:
        names = ", ".join(unnamed)
        told.append(f"off here, as nobody fitted what they read: {names}. Name those that you mean to leave off in pool.without.")
    return tuple(told)


ORDERED = (
    ("probes", "prove_s", "prove_long_s"),
    ("guards.acid.budget", "limit_share", "stop_share"),
    ("guards.start.hold", "hold_s", "unclean_s"),
)
"""Settings of one section of which the first may not be larger than the second, beside every pair `x_min`, `x_max`."""


def findings(params: Mapping[str, Any]) -> tuple[Finding, ...]:
    """What no single key can know: ranges once more, so that no way into the params goes round them, and pairs in their order."""
    rooms = {name: value for name, value in params.items() if name != "guards"}
    rooms |= {f"guards.{code}": value for code, value in params["guards"].items() if value is not None}
    out_of_range = tuple(
        Finding(f"{path}.{name}", str(getattr(value, name)), "it lies outside its range", "see the settings reference")
        for path, value in rooms.items()
        for name in check_ranges(value)
    )
    return out_of_range + tuple(_crossed(rooms))


def _crossed(rooms: Mapping[str, Any]) -> Iterator[Finding]:
    pairs = list(ORDERED)
    for path, value in rooms.items():
        names = [spec.name for spec in dataclasses.fields(value)]
        pairs += [(path, name, name[:-4] + "_max") for name in names if is_minimum(name) and name[:-4] + "_max" in names]
    for path, low, high in pairs:
        smaller, larger = getattr(rooms.get(path), low, None), getattr(rooms.get(path), high, None)
        if smaller is not None and larger is not None and smaller > larger:
            yield Finding(f"{path}.{low}", f"{smaller:g}", f"it is larger than {high} = {larger:g}", "put them in their order")
