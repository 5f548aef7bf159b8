"""The whole state as one JSON document, for the command line, the console and hubs. Versioned; sentences are already made."""

from collections.abc import Mapping
from datetime import timedelta
from typing import Any

from dosectl import __version__
from dosectl.core.alarms.hiding import HOLD_OFF_S
from dosectl.core.alarms.hiding import WORDS as HIDING_WORDS
from dosectl.core.alarms.states import put_aside
from dosectl.core.alarms.states import standing as standing_alarms
from dosectl.core.controller.decision import Decision, feeder_why
from dosectl.core.controller.state import State
from dosectl.core.evidence import Evidence
from dosectl.core.interlocks.arbiter import tightest
from dosectl.core.site import Site
from dosectl.model.feeds import FeedOff, FeedOn
from dosectl.model.signals import Reading, SignalKind
from dosectl.model.verdicts import Denial, Limit, Verdict
from dosectl.texts.render import Texts

VIEW = 1
"""Raised when a name in this document changes its meaning or goes away."""

UNITS: Mapping[SignalKind, str] = {
    SignalKind.ORP: "mV",
    SignalKind.PH: "",
    SignalKind.WATER_TEMP: "°C",
    SignalKind.FREE_CHLORINE: "mg/L",
    SignalKind.LEVEL: "%",
    SignalKind.SALT: "g/L",
    SignalKind.CELL_CURRENT: "A",
    SignalKind.CELL_VOLTAGE: "V",
}

Document = dict[str, Any]


def view_of(site: Site, texts: Texts, state: State, decision: Decision, extra: Document) -> Document:
    """The document. `extra` adds what only the process knows: broker, journal, dry run."""
    evidence = decision.evidence
    return {
        "view": VIEW,
        "version": __version__,
        "pool": {"id": site.pool.pool_id, "name": site.pool.name, "simulated": site.simulated, "time_zone": site.pool.time_zone},
        "at_utc": evidence.now.utc.isoformat(timespec="seconds"),
        "water": _water(decision),
        "target": {
            "mg_l": round(decision.control.target_mg_l, 2),
            "low_mg_l": round(decision.control.band_low_mg_l, 2),
            "high_mg_l": round(decision.control.band_high_mg_l, 2),
            "fallback": decision.control.fallback,
            "text": texts.reason(decision.control.target_why),
        },
        "flow": {"proven": evidence.flow.proven, "since_utc": _utc_of(evidence, evidence.flow.since_s)},
        "feeders": [_feeder(texts, evidence, decision, command) for command in decision.commands],
        "interlocks": _interlocks(texts, decision),
        "latches": [
            {"latch": key, "code": memory.latched.code, "text": texts.reason(memory.latched)}
            for key, memory in state.working.memories.items()
            if memory.latched is not None
        ],
        "signals": [_signal(site, texts, evidence, reading) for reading in evidence.readings.values()],
        **_alarms(texts, state, evidence),
        "proofs": [
            {
                "feeder": proof.feeder,
                "attested": proof.attested,
                "simulated": proof.simulated,
                "by": proof.by,
                "at_utc": proof.at_utc,
            }
            for proof in evidence.standing.proofs
        ],
        "tests": _tests(evidence),
        "added_utc": _utc_of(evidence, evidence.standing.added_s),
        "place": {"latitude_deg": site.pool.latitude_deg, "longitude_deg": site.pool.longitude_deg, "depth_m": site.pool.depth_m},
        **extra,
    }


def _alarms(texts: Texts, state: State, evidence: Evidence) -> Document:
    """Standing alarms, those put aside with the time left, and the parents that hide others now."""
    memory = state.durable.alarms
    folded = {item.code: str(item.into) for item in memory.calls.folded}
    aside = [
        {
            **texts.alarm(alarm),
            "until_utc": _utc_of(evidence, put.until_s),
            "left_h": round(max(0.0, put.until_s - evidence.clock_s) / 3600.0, 1),
        }
        for alarm in put_aside(memory)
        if (put := alarm.out or alarm.shelf) is not None
    ]
    hiding = [
        {"parent": str(item.name), "text": HIDING_WORDS.get(item.name, str(item.name))}
        for item in memory.hidings
        if item.active or evidence.clock_s - item.changed_s < HOLD_OFF_S
    ]
    shown = [{**texts.alarm(alarm), "follows": folded.get(alarm.code, "")} for alarm in standing_alarms(memory)]
    return {"alarms": shown, "alarms_aside": aside, "hiding": hiding}


def _water(decision: Decision) -> Document:
    water = decision.water
    return {
        "free_chlorine_mg_l": round(water.free_chlorine_mg_l, 2),
        "free_chlorine_low95_mg_l": round(water.low95_mg_l, 2),
        "free_chlorine_high95_mg_l": round(water.high95_mg_l, 2),
        "hocl_mg_l": round(water.hocl_mg_l, 4),
        "ph": round(water.ph, 2),
        "ph_sigma": round(water.ph_sigma, 2),
        "temp_c": round(water.temp_c, 1),
        "stabiliser_mg_l": round(water.cya_mg_l),
        "stabiliser_sigma_mg_l": round(water.cya_sigma),
        "alkalinity_mg_l": round(water.alkalinity_mg_l),
        "alkalinity_sigma_mg_l": round(water.alkalinity_sigma),
        "demand_mg_l_day": round(water.demand_mg_l_day, 2),
        "sun_loss_mg_l_day": round(water.sun_loss_mg_l_day, 2),
    }


def _utc_of(evidence: Evidence, at_s: float | None) -> str | None:
    if at_s is None:
        return None
    return (evidence.now.utc - timedelta(seconds=evidence.clock_s - at_s)).isoformat(timespec="seconds")


def _feeder(texts: Texts, evidence: Evidence, decision: Decision, command: FeedOn | FeedOff) -> Document:
    feeder = evidence.site.feeder(command.feeder)
    facts = evidence.feeders[feeder.id]
    book = evidence.ledger.of(feeder.id)
    why = command.why if isinstance(command, FeedOff) else feeder_why(decision, feeder.id)
    volume_m3 = evidence.site.pool.volume_m3
    return {
        "id": feeder.id,
        "substance": feeder.substance.value,
        "kind": feeder.kind,
        "on": isinstance(command, FeedOn),
        "level": command.level if isinstance(command, FeedOn) else 0.0,
        "running": facts.running,
        "code": why.code,
        "text": texts.reason(why),
        "limits": [
            {"guard": v.guard, "text": texts.reason(v.why)}
            for v in decision.objections.get(feeder.id, ())
            if isinstance(v, Limit)
        ],
        "fed_1h_mg_l": round(book.window_g(evidence.clock_s, 3600.0) / volume_m3, 3),
        "fed_24h_mg_l": round(book.window_g(evidence.clock_s, 86400.0) / volume_m3, 2),
        "full_output_mg_l_h": round(feeder.rate_g_s * 3600.0 / volume_m3, 2),
    }


def _tightest(texts: Texts, decision: Decision, command: FeedOn | FeedOff) -> list[Document]:
    """The limit that leaves least, while the feeder is on."""
    limit = tightest(decision.objections.get(command.feeder, ())) if isinstance(command, FeedOn) else None
    return [] if limit is None else [{"guard": limit.guard, "left_g": round(limit.mass_g, 3), "text": texts.reason(limit.why)}]


def _interlocks(texts: Texts, decision: Decision) -> list[Document]:
    """What denies or limits, once per verdict with the feeders it binds."""
    seen: dict[int, tuple[Verdict, list[str]]] = {}
    for feeder, verdicts in decision.objections.items():
        for verdict in verdicts:
            seen.setdefault(id(verdict), (verdict, []))[1].append(str(feeder))
    rows: list[Document] = []
    for verdict, feeders in seen.values():
        if isinstance(verdict, Denial | Limit):
            row: Document = {"guard": verdict.guard, "feeders": feeders, "text": texts.reason(verdict.why)}
            if isinstance(verdict, Denial):
                row |= {"denies": True, "latched": verdict.latched, "clears_by": verdict.clears_by}
            else:
                row |= {"denies": False, "latched": False, "left_g": round(verdict.mass_g, 3)}
            rows.append(row)
    return rows


def _signal(site: Site, texts: Texts, evidence: Evidence, reading: Reading) -> Document:
    kind = next(signal.kind for signal in site.signals if signal.id == reading.signal)
    value = reading.value if isinstance(reading.value, bool) or reading.value is None else round(reading.value, 3)
    return {
        "id": reading.signal,
        "kind": kind.value,
        "value": value,
        "unit": UNITS.get(kind, ""),
        "status": reading.status.name.lower(),
        "age_s": None if reading.at_s is None else round(evidence.clock_s - reading.at_s, 1),
        "text": "" if reading.why is None else texts.reason(reading.why),
    }


def _tests(evidence: Evidence) -> list[Document]:
    newest = {test.quantity: test for test in sorted(evidence.tests, key=lambda test: test.taken_s)}
    return [
        {"quantity": q.value, "value": t.value, "sigma": t.sigma, "method": t.method, "taken_utc": t.taken_utc.isoformat()}
        for q, t in newest.items()
    ]
