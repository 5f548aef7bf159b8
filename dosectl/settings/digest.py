"""Fingerprints of what is safety-relevant: of each feeder and of the whole installation.

A digest that changed holds the feeder until the change is confirmed, so it holds what guards judge by and nothing else: texts,
the estimate, the targets and where records go are left out. Floats are written by repr: one file, one digest, everywhere.
"""

import dataclasses
import hashlib
import json
from collections.abc import Mapping
from enum import Enum
from typing import Any

from dosectl.core.site import Feeder, Signal, Site
from dosectl.model.feeds import FeederId, Substance
from dosectl.model.reasons import Fact
from dosectl.model.signals import SignalKind
from dosectl.settings.bindings import SignalBinding
from dosectl.settings.broker import RelayTemplate
from dosectl.settings.site_from import CHLORINE_ONLY

Fields = Mapping[str, Fact]
"""Dotted name to value; kept by the record, so that a later start can say what changed."""

_FEEDER_UNJUDGED = ("digest", "strength_text", "id", "full_from_c")  # texts, and what the estimate alone goes by
_POOL_FIELDS = ("volume_m3", "stabiliser_mg_l", "alkalinity_mg_l", "borate_b_mg_l", "salt_g_l")


def fields_of(
    site: Site, params: Mapping[str, Any], bindings: tuple[SignalBinding, ...] = (), relays: tuple[RelayTemplate, ...] = ()
) -> Fields:
    """Every safety-relevant field of the plan. `params`: "probes" and "guards" (a mapping by code) count, others are ignored."""
    fields: dict[str, Fact] = {f"pool.{name}": getattr(site.pool, name) for name in _POOL_FIELDS}
    fields["pool.simulated"] = site.simulated
    fields |= {"timing.renew_s": site.renew_s, "timing.expires_s": site.expires_s}
    for signal in site.signals:
        fields |= _flat(f"signals.{signal.id}", signal, ("id",))
    for binding in bindings:
        fields |= _flat(f"signals.{binding.signal}.message", binding, ("signal", "kind"))
    for feeder in site.feeders:
        fields |= _flat(f"feeders.{feeder.id}", feeder, _FEEDER_UNJUDGED)
    for relay in relays:
        fields |= _flat(f"feeders.{relay.feeder}.relay", relay, ("feeder",))
    if params.get("probes") is not None:
        fields |= _flat("probes", params["probes"])
    for code, guard_params in dict(params.get("guards", {})).items():
        if guard_params is not None:
            fields |= _flat(f"guards.{code}", guard_params)
    return fields


def feeder_fields(fields: Fields, site: Site, feeder: Feeder, bound: Mapping[str, frozenset[FeederId]] | None = None) -> Fields:
    """The fields that concern one feeder.

    bound : by guard code, whom its guards bind; a code that is missing there concerns every feeder
    """
    others = {f"feeders.{other.id}" for other in site.feeders if other.id != feeder.id}
    unseen = {f"signals.{signal.id}" for signal in site.signals if not _concerns(signal, feeder)}
    pool = ("alkalinity_mg_l", "borate_b_mg_l") if feeder.substance is Substance.CHLORINE else ("stabiliser_mg_l", "salt_g_l")
    dropped = others | unseen | {f"pool.{name}" for name in pool}
    dropped |= {f"guards.{code}" for code, feeders in (bound or {}).items() if feeder.id not in feeders}
    return {name: value for name, value in fields.items() if not _below(name, dropped)}


def digest_of(fields: Fields) -> str:
    """SHA-256 of the fields as canonical JSON, hexadecimal."""
    canonical = json.dumps(dict(fields), sort_keys=True, separators=(",", ":"), ensure_ascii=True, allow_nan=False)
    return hashlib.sha256(canonical.encode()).hexdigest()


def with_digests(site: Site, fields: Fields, bound: Mapping[str, frozenset[FeederId]] | None = None) -> Site:
    """The site with its own digest and that of each feeder."""
    feeders = tuple(
        dataclasses.replace(feeder, digest=digest_of(feeder_fields(fields, site, feeder, bound))) for feeder in site.feeders
    )
    return dataclasses.replace(site, feeders=feeders, digest=digest_of(fields))


def _concerns(signal: Signal, feeder: Feeder) -> bool:
    if signal.kind is SignalKind.LEVEL:
        return signal.feeder == feeder.id
    return feeder.substance is Substance.CHLORINE or signal.kind not in CHLORINE_ONLY


def _below(name: str, prefixes: set[str]) -> bool:
    return any(name == prefix or name.startswith(prefix + ".") for prefix in prefixes)


def _flat(prefix: str, item: Any, without: tuple[str, ...] = ()) -> dict[str, Fact]:
    names = [spec.name for spec in dataclasses.fields(item) if spec.name not in without]
    return {f"{prefix}.{name}": _fact(getattr(item, name)) for name in names}


def _fact(value: Any) -> Fact:
    if value is None:
        return ""
    if isinstance(value, Enum):
        return str(value.value)
    if isinstance(value, bool | int | float | str):
        return value
    return json.dumps(value, default=str)
