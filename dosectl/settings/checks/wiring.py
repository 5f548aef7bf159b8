"""Names, topics, units and places: what refers to what, and whether it is there."""

import re
import zoneinfo
from collections.abc import Callable, Iterator

from dosectl.model.feeds import Substance
from dosectl.model.signals import SignalKind
from dosectl.settings.delivery import substance_of
from dosectl.settings.findings import Finding, shown
from dosectl.settings.tables.file import SignalTable, Tables
from dosectl.settings.tables.guesses import nearest
from dosectl.settings.tables.schema import PLACEHOLDERS, RelayTable
from dosectl.settings.tables.signal_kinds import Meter, shape_of

OWN_TOPICS = ("feeder", "node", "ask", "reply", "daemon", "state", "alarm")
CHLORINE_PROBES = (SignalKind.ORP, SignalKind.FREE_CHLORINE)
NEEDED = (
    (CHLORINE_PROBES, "chlorine can't be held without a redox electrode or a chlorine cell"),
    ((SignalKind.PH,), "how strong the chlorine is, and every acid dose, depends on pH"),
    ((SignalKind.WATER_TEMP,), "demand, electrodes and the cell's cold limit depend on the water's temperature"),
)
FEEDER_SIGNALS = {
    "feedback": SignalKind.FEEDBACK,
    "level": SignalKind.LEVEL,
    "current": SignalKind.CELL_CURRENT,
    "voltage": SignalKind.CELL_VOLTAGE,
}


def needed_signals(tables: Tables) -> Iterator[Finding]:
    """Probes without which nothing can be held."""
    fitted = {signal.kind for signal in tables.signals}
    no_chlorine = all(substance_of(table) is Substance.ACID for _, table in tables.feeders)
    for kinds, why in NEEDED:
        if not fitted.intersection(kinds) and not (no_chlorine and kinds is CHLORINE_PROBES):
            yield Finding(f"signals.{kinds[0]}", "", f"this is missing: {why}", f"write [signals.{kinds[0]}] with its topic")


def references(tables: Tables) -> Iterator[Finding]:
    """What feeders and partners name must be there, of the right kind, and belong to one only."""
    signals = {signal.name: signal for signal in tables.signals}
    owners: dict[str, str] = {}
    for name, table in tables.feeders:
        for key, kind in FEEDER_SIGNALS.items():
            named = getattr(table, key, None)
            if named is None:
                continue
            place = f"feeders.{name}.{key}"
            yield from _reference(place, named, kind, signals)
            if owners.setdefault(named, place) != place:
                why = f"{owners[named]} has it already; one signal can't speak for two"
                yield Finding(place, shown(named), why, "give each feeder a signal of its own")
    for signal in tables.signals:
        partner = getattr(signal.keys, "partner", None)
        if partner == signal.name:
            yield Finding(f"signals.{signal.name}.partner", shown(partner), "a probe can't check itself", "name the other probe")
        elif partner is not None:
            yield from _reference(f"signals.{signal.name}.partner", partner, signal.kind, signals)
        if signal.kind is SignalKind.FEEDBACK and signal.name not in owners:
            why = "no feeder names it as its feedback"
            yield Finding(f"signals.{signal.name}", "", why, f'write feedback = "{signal.name}" in its feeder, or leave it out')


def topics(tables: Tables) -> Iterator[Finding]:
    """Two signals from one place of one topic would be one evidence counted twice; our own topics are for our own words."""
    places: dict[tuple[str, str | None], str] = {}
    base = tables.broker.base or f"dosectl/{tables.pool.id}"
    told = {
        topic: name for name, table in tables.feeders if table.relay for topic in (table.relay.on_topic, table.relay.off_topic)
    }
    for signal in tables.signals:
        place, key = (signal.keys.topic, signal.keys.pointer), f"signals.{signal.name}.topic"
        if place in places:
            why = f"signals.{places[place]} reads the same place: one message would count as two kinds of evidence"
            yield Finding(key, shown(signal.keys.topic), why, "give it its own topic or pointer")
        places.setdefault(place, signal.name)
        if signal.keys.topic in told:
            why = f"feeders.{told[signal.keys.topic]} is commanded on this topic: our own words are no evidence of what it does"
            yield Finding(key, shown(signal.keys.topic), why, "name the topic on which the device reports")
        first = signal.keys.topic.removeprefix(base + "/").split("/")[0] if signal.keys.topic.startswith(base + "/") else ""
        if first in OWN_TOPICS:
            why = f"topics below {base}/{first} carry the controller's own words"
            yield Finding(key, shown(signal.keys.topic), why, "publish the signal elsewhere, or change broker.base")


def units(tables: Tables) -> Iterator[Finding]:
    """A signal is a switch or a meter, and says which."""
    for signal in tables.signals:
        shape = shape_of(signal.kind)
        path = f"signals.{signal.name}"
        if getattr(signal.keys, "scale", 1.0) == 0.0:
            yield Finding(
                f"{path}.scale",
                "0",
                "every message would give the same value",
                "write the factor of the transmitter, or leave it out",
            )
        both = set(_lowered(signal, "on_words")) & set(_lowered(signal, "off_words"))
        if both:
            why = f"{shown(min(both))} would mean on and off"
            yield Finding(f"{path}.on_words", "", why, "let each word mean one thing")
        thresholds = [meter for meter in shape.meters if meter.threshold]
        if thresholds:
            yield from _threshold(path, signal, thresholds)


def commands(tables: Tables) -> Iterator[Finding]:
    """One node or one relay template for each feeder; a relay must end the feed by itself."""
    topics_used: dict[str, str] = {}
    for name, table in tables.feeders:
        path = f"feeders.{name}"
        if (table.node is None) == (table.relay is None):
            found = "node and relay" if table.node is not None else "neither node nor relay"
            why = "it must be sure who carries out its commands and ends them when we fall silent"
            yield Finding(path, found, why, "write node = its name, or [" + path + ".relay] with templates")
        if table.relay is None:
            continue
        yield from _template(f"{path}.relay", table.relay, table.percent)
        if topics_used.setdefault(table.relay.on_topic + table.relay.on_payload, path) != path:
            other = topics_used[table.relay.on_topic + table.relay.on_payload]
            yield Finding(
                f"{path}.relay.on_topic", shown(table.relay.on_topic), f"{other} sends the same ON", "give each its own relay"
            )


def time_and_place(tables: Tables) -> Iterator[Finding]:
    """The time zone exists; a command is renewed before it expires."""
    zone = tables.pool.time_zone
    try:
        zoneinfo.ZoneInfo(zone)
    except (zoneinfo.ZoneInfoNotFoundError, ValueError, OSError):
        near = nearest(zone, zoneinfo.available_timezones())
        do = f'write "{near}" if that is meant' if near else 'write an IANA name such as "Europe/Vienna"'
        yield Finding("pool.time_zone", shown(zone), "this time zone is not known", do)
    timing = tables.timing
    if timing.renew_s * 2.0 > timing.expires_s:
        why = f"with expires_s = {timing.expires_s:g} one lost message would end a feed"
        yield Finding("timing.renew_s", f"{timing.renew_s:g}", why, "let it be at most half of expires_s")


def broker_account(tables: Tables) -> Iterator[Finding]:
    """A password belongs to an account."""
    if tables.broker.password_file is not None and tables.broker.username is None:
        yield Finding("broker.password_file", shown(tables.broker.password_file), "a password without an account", "add username")


def _reference(place: str, named: str, kind: SignalKind, signals: dict[str, SignalTable]) -> Iterator[Finding]:
    if named not in signals:
        near = nearest(named, [name for name, signal in signals.items() if signal.kind is kind])
        do = f'the nearest of that kind is "{near}"' if near else f'write [signals.{named}] with kind = "{kind}"'
        yield Finding(place, shown(named), "there is no such signal", do)
    elif signals[named].kind is not kind:
        yield Finding(
            place, shown(named), f"that signal is of kind {signals[named].kind}, wanted is {kind}", "name another signal"
        )


def _lowered(signal: SignalTable, key: str) -> tuple[str, ...]:
    return tuple(word.strip().lower() for word in getattr(signal.keys, key, ()))


def _threshold(path: str, signal: SignalTable, meters: list[Meter]) -> Iterator[Finding]:
    given = [meter for meter in meters if getattr(signal.keys, f"on_above_{meter.suffix}") is not None]
    unit = signal.keys.unit
    if len(given) > 1:
        yield Finding(
            path,
            "two thresholds",
            "a signal has one unit",
            "keep one of on_above_" + " and on_above_".join(m.suffix for m in given),
        )
    elif unit is not None and not given:
        meter = next(meter for meter in meters if unit in meter.payload_units)
        why = f"a meter needs the value above which it counts as on, in {meter.unit}"
        yield Finding(
            f"{path}.on_above_{meter.suffix}",
            "",
            why,
            "take half of what it shows in normal running; without unit it is a switch",
        )
    elif unit is not None and unit not in given[0].payload_units:
        why = f"on_above_{given[0].suffix} is in {given[0].unit}"
        yield Finding(f"{path}.unit", shown(unit), why, f"write one of {', '.join(given[0].payload_units)}")


def _template(path: str, relay: RelayTable, percent: bool) -> Iterator[Finding]:
    payload = relay.on_payload
    if "{seconds}" not in payload:
        why = "a relay that is only told ON stays on when we fall silent"
        yield Finding(f"{path}.on_payload", shown(payload), why, "put {seconds} where the relay takes its own time limit")
    if percent and not ("{level}" in payload or "{percent}" in payload):
        yield Finding(f"{path}.on_payload", shown(payload), "the feeder takes a percentage", "put {percent} or {level} in it")
    for key in ("on_topic", "off_topic"):
        words = getattr(relay, key) or ""
        if set(words) & set("#+\x00{}") or words.startswith("$"):
            yield Finding(f"{path}.{key}", shown(words), "this is no plain topic", "write a topic without #, +, {} and $")
    for key in ("on_payload", "off_payload"):
        known = PLACEHOLDERS if key == "on_payload" else ()
        for place in re.findall(r"\{[A-Za-z_]+\}", getattr(relay, key)):
            if place not in known:
                do = f"known in the ON are {', '.join(PLACEHOLDERS)}, in the OFF none"
                yield Finding(f"{path}.{key}", shown(getattr(relay, key)), f"{place} is not known there", do)


WIRING_CHECKS: tuple[Callable[[Tables], Iterator[Finding]], ...] = (
    needed_signals,
    references,
    topics,
    units,
    commands,
    time_and_place,
    broker_account,
)
