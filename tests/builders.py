"""Builders of evidence for tests: a healthy 50 m3 salt pool (CYA 50) with a cell and an acid pump, nothing running, all
permitted.

Every builder takes the fields to change by keyword; `feeding`, `with_reading`, `with_flow` and `later` turn one evidence
into another.
"""

from collections.abc import Mapping
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from typing import Any

from dosectl.core.control.habit import FlowHabit
from dosectl.core.evidence import Evidence, FeederFacts, FlowFacts, Proof, Standing, StartFacts
from dosectl.core.site import Feeder, Pool, Signal, Site
from dosectl.model.feeds import FeederId, Substance
from dosectl.model.instant import Instant
from dosectl.model.ledger import FeederLedger, Ledger
from dosectl.model.reasons import Code, Reason
from dosectl.model.requests import RequestId
from dosectl.model.signals import Health, NodeId, NodeReport, Reading, SignalId, SignalKind, Status
from dosectl.model.water_tests import Quantity, WaterTest

CELL = FeederId("cell")
ACID = FeederId("acid")
NODE = NodeId("plant")
CLOCK_S = 1_000_000.0
UTC_NOW = datetime(2026, 7, 1, 10, 0, tzinfo=UTC)

HEALTHY: dict[str, float | bool] = {
    "orp": 700.0,
    "ph": 7.5,
    "water_temp": 26.0,
    "flow": True,
    "pump": True,
    "cell_feedback": False,
    "acid_feedback": False,
}


def a_pool(**changes: Any) -> Pool:
    """A stabilised outdoor pool of 50 m3."""
    pool = Pool(
        pool_id="test", name="Test pool", volume_m3=50.0, latitude_deg=45.0, longitude_deg=9.0, time_zone="Europe/Rome",
        stabiliser_mg_l=50.0, alkalinity_mg_l=80.0, hardness_mg_l=200.0, salt_g_l=3.2,
    )  # fmt: skip
    return replace(pool, **changes)


def a_signal(kind: SignalKind, name: str | None = None, **changes: Any) -> Signal:
    """A signal of a kind with the default period and age limit of its kind; its id is the kind's name unless given."""
    quick = kind in {SignalKind.FLOW, SignalKind.PUMP, SignalKind.FEEDBACK, SignalKind.SAMPLE_FLOW}
    signal = Signal(
        id=SignalId(name or kind.value), kind=kind, age_s_max=10.0 if quick else 180.0, period_s=3.0 if quick else 10.0,
        edges=quick,
        sigma={SignalKind.ORP: 5.0, SignalKind.PH: 0.05, SignalKind.WATER_TEMP: 0.3}.get(kind, 0.0),
    )  # fmt: skip
    return replace(signal, **changes)


def a_cell(**changes: Any) -> Feeder:
    """A salt chlorinator of 20 g/h on a node, with feedback measured at the load."""
    cell = Feeder(
        id=CELL, substance=Substance.CHLORINE, kind="cell", rate_g_s=20.0 / 3600.0, percent=False, lockout_group="chlorine",
        pulse_s_min=60.0, pulse_s_max=1200.0, rest_s_min=60.0, feedback=SignalId("cell_feedback"), metered=True, level=None,
        container_ml=0.0, ml_per_g=0.0, strength_text="", node=NODE, cell_cutout=True, hourly_cap_g=20.0, digest="cell-1",
    )  # fmt: skip
    return replace(cell, **changes)


def an_acid_pump(**changes: Any) -> Feeder:
    """An acid pump of 0.5 L/h (250 g/h as CaCO3, 5 mg/L/h in 50 m3) on a node, with feedback measured at the load."""
    pump = Feeder(
        id=ACID, substance=Substance.ACID, kind="pump", rate_g_s=250.0 / 3600.0, percent=False, lockout_group="acid",
        pulse_s_min=5.0, pulse_s_max=900.0, rest_s_min=60.0, feedback=SignalId("acid_feedback"), metered=True, level=None,
        container_ml=5000.0, ml_per_g=2.0, strength_text="hydrochloric acid 31.45 %", node=NODE, cell_cutout=False,
        hourly_cap_g=250.0, digest="acid-1",
    )  # fmt: skip
    return replace(pump, **changes)


def a_chlorine_pump(**changes: Any) -> Feeder:
    """A hypochlorite pump of 0.6 L/h at 125 g/L (75 g/h as Cl2, 1.5 mg/L/h in 50 m3); id `cell` so that it can take the
    cell's place."""
    base = a_cell(kind="pump", rate_g_s=75.0 / 3600.0, cell_cutout=False, container_ml=20000.0, ml_per_g=8.0, hourly_cap_g=75.0)
    return replace(base, **{"strength_text": "hypochlorite 12.5 %", "digest": "chlorine-1", **changes})


def a_site(*, feeders: tuple[Feeder, ...] | None = None, more_signals: tuple[Signal, ...] = (), **changes: Any) -> Site:
    """A site with ORP, pH, temperature, flow switch, pump and both feedbacks, plus what is asked for."""
    signals = (
        a_signal(SignalKind.ORP), a_signal(SignalKind.PH), a_signal(SignalKind.WATER_TEMP), a_signal(SignalKind.FLOW),
        a_signal(SignalKind.PUMP), a_signal(SignalKind.FEEDBACK, "cell_feedback", feeder=CELL),
        a_signal(SignalKind.FEEDBACK, "acid_feedback", feeder=ACID), *more_signals,
    )  # fmt: skip
    site = Site(
        ident="dosectl-test", pool=a_pool(), signals=signals, feeders=(a_cell(), an_acid_pump()) if feeders is None else feeders,
        renew_s=5.0, expires_s=10.0, digest="site-1",
    )  # fmt: skip
    return replace(site, **changes)


def a_habit_in_parts(part: float, utc: datetime) -> FlowHabit:
    """The learnt hours of a pump that runs a part of each hour, the last time half an hour ago."""
    stops = [utc - timedelta(hours=hours + 0.5) for hours in reversed(range(24))]
    seconds = tuple(stop.hour * 3600.0 + stop.minute * 60.0 + stop.second for stop in stops)
    return FlowHabit((part,) * 24, stops_s=seconds, stops_day=tuple(stop.toordinal() for stop in stops))


def an_instant(clock_s: float = CLOCK_S) -> Instant:
    """The moment of a plant clock, in one boot."""
    return Instant(clock_s, UTC_NOW + timedelta(seconds=clock_s - CLOCK_S), "boot-1")


def a_reading(signal: str, value: float | bool | None = None, status: Status = Status.GOOD, **changes: Any) -> Reading:
    """A reading, good and fresh unless said otherwise; UNKNOWN and the like carry no value."""
    shown = None if status >= Status.CHECK else value
    raw = None if status is Status.UNKNOWN else value
    why = None if status is Status.GOOD else Reason(Code(f"signal.{status.name.lower()}"), (), an_instant())
    reading = Reading(SignalId(signal), status, shown, raw, None if isinstance(value, bool) else 0.0, CLOCK_S, why)
    return replace(reading, **changes)


def unknown(signal: str) -> Reading:
    """A reading of which nothing is known."""
    return a_reading(signal, status=Status.UNKNOWN, at_s=None)


def facts_of(feeder: Feeder, clock_s: float = CLOCK_S, **changes: Any) -> FeederFacts:
    """A feeder that is off, long since, with a fresh report of its node."""
    node = None
    if feeder.node is not None:
        node = NodeReport(feeder.node, "n1", 3_600_000, "dosectl-test", False, an_instant(clock_s))
    facts = FeederFacts(
        feeder=feeder.id, asked_on=False, asked_on_since_s=None, asked_off_since_s=clock_s - 7200.0, running=False, ran_s=None,
        ran_flow_s=None, feedback_on_since_s=None, node=node, node_age_s=None if node is None else 1.0,
    )  # fmt: skip
    return replace(facts, **changes)


def a_proof(feeder: Feeder, **changes: Any) -> Proof:
    """A proof record that fits the feeder."""
    proof = Proof(feeder.id, feeder.digest, feeder.node or "", False, False, "2026-05-01T10:00:00Z", "owner")
    return replace(proof, **changes)


def a_test(quantity: Quantity, value: float, taken_s: float = CLOCK_S - 3600.0, **changes: Any) -> WaterTest:
    """A water test by drop count, taken an hour ago unless said otherwise."""
    utc = an_instant(taken_s).utc
    test = WaterTest(RequestId("t1"), quantity, value, 0.1 * abs(value) + 0.01, "drops", utc, taken_s, taken_s, "owner")
    return replace(test, **changes)


def a_ledger(site: Site, fed: Mapping[FeederId, tuple[tuple[float, float], ...]] | None = None) -> Ledger:
    """A ledger with closed entries per feeder: (plant clock of the close [s], mass [g])."""
    entries = []
    for feeder in site.feeders:
        times: list[float] = []
        totals: list[float] = []
        for at_s, mass_g in (fed or {}).get(feeder.id, ()):
            times.append(at_s)
            totals.append((totals[-1] if totals else 0.0) + mass_g)
        entries.append(FeederLedger(feeder.id, tuple(times), tuple(totals), substance=feeder.substance))
    return Ledger(tuple(entries))


def a_standing(site: Site, **changes: Any) -> Standing:
    """All feeders proven and confirmed, 14 accepted days of ordinary use."""
    standing = Standing(
        proofs=tuple(a_proof(feeder) for feeder in site.feeders),
        confirmed=tuple((feeder.id, feeder.digest) for feeder in site.feeders),
        daily_use_mg_l=((Substance.CHLORINE, (2.4,) * 14), (Substance.ACID, (2.0,) * 14)),
    )
    return replace(standing, **changes)


def an_evidence(site: Site | None = None, clock_s: float = CLOCK_S, **changes: Any) -> Evidence:
    """Healthy evidence of a site, two hours into the pump's run."""
    site = a_site() if site is None else site
    more: dict[SignalKind, float | bool] = {
        SignalKind.SAMPLE_FLOW: True, SignalKind.FREE_CHLORINE: 3.0, SignalKind.LEVEL: True, SignalKind.COVER: False,
        SignalKind.SALT: 3.2, SignalKind.CELL_CURRENT: 5.0, SignalKind.CELL_VOLTAGE: 12.0, SignalKind.WATER_PATH: True,
        SignalKind.STOP_INPUT: False, SignalKind.PRESENCE: False, SignalKind.ORP: 700.0, SignalKind.PH: 7.5,
        SignalKind.SUNLIGHT: 80.0,
    }  # fmt: skip
    readings = {
        signal.id: a_reading(signal.id, HEALTHY.get(signal.id, more.get(signal.kind, False)), at_s=clock_s)
        for signal in site.signals
    }
    evidence = Evidence(
        site=site, now=an_instant(clock_s), clock_s=clock_s, clock_jump_s=0.0, readings=readings, samples=(), drops=(),
        flow=FlowFacts(True, False, clock_s - 7200.0, 500_000.0 + (clock_s - CLOCK_S), clock_s - 7200.0, clock_s - 50_000.0),
        feeders={feeder.id: facts_of(feeder, clock_s) for feeder in site.feeders}, ledger=a_ledger(site), tests=(),
        standing=a_standing(site),
        start=StartFacts(clock_s - 50_000.0, True, (clock_s - 50_000.0,), {signal.id: 1000 for signal in site.signals}, 0.0),
        health=Health(True, 10_000_000_000, True, 1.0, True), foreign=(),
    )  # fmt: skip
    return replace(evidence, **changes)


def with_reading(evidence: Evidence, *readings: Reading) -> Evidence:
    """The evidence with some readings replaced."""
    return replace(evidence, readings={**evidence.readings, **{reading.signal: reading for reading in readings}})


def with_value(evidence: Evidence, signal: str, value: float | bool, status: Status = Status.GOOD) -> Evidence:
    """The evidence with the value of one signal changed, fresh as of now."""
    return with_reading(evidence, a_reading(signal, value, status, at_s=evidence.clock_s))


def with_flow(evidence: Evidence, *, pump: bool | None, flow: bool | None, since_s: float | None = None) -> Evidence:
    """The evidence with the flow evidence set (None: unknown) and the flow facts to match; `since_s`: proven since."""
    proven = bool(pump and flow)
    broken = pump is False or flow is False
    readings = [
        unknown(name) if state is None else a_reading(name, state, at_s=evidence.clock_s)
        for name, state in (("pump", pump), ("flow", flow))
    ]
    began = since_s if since_s is not None else (evidence.flow.since_s if evidence.flow.since_s is not None else evidence.clock_s)
    stopped = evidence.flow.pump_stopped_s
    if pump is False and evidence.readings[SignalId("pump")].switch() is True:
        stopped = evidence.clock_s
    facts = replace(evidence.flow, proven=proven, broken=broken, since_s=began if proven else None, pump_stopped_s=stopped)
    return replace(with_reading(evidence, *readings), flow=facts)


def with_facts(evidence: Evidence, feeder: FeederId, **changes: Any) -> Evidence:
    """The evidence with facts of one feeder changed; `running` also sets its feedback reading."""
    facts = replace(evidence.feeders[feeder], **changes)
    changed = replace(evidence, feeders={**evidence.feeders, feeder: facts})
    feedback = evidence.site.feeder(feeder).feedback
    if "running" in changes and feedback is not None:
        state = changes["running"]
        reading = unknown(feedback) if state is None else a_reading(feedback, state, at_s=evidence.clock_s)
        changed = with_reading(changed, reading)
    return changed


def feeding(evidence: Evidence, feeder: FeederId, for_s: float = 60.0) -> Evidence:
    """The evidence with one feeder asked on and running for some seconds."""
    began = evidence.clock_s - for_s
    return with_facts(
        evidence, feeder, asked_on=True, asked_on_since_s=began, asked_off_since_s=None, running=True, ran_s=evidence.clock_s,
        ran_flow_s=evidence.flow.clock_s, feedback_on_since_s=began,
    )  # fmt: skip


def later(evidence: Evidence, by_s: float) -> Evidence:
    """The same state some seconds later: clocks moved on, good readings fresh, flow time grown while it is proven."""
    clock_s = evidence.clock_s + by_s
    readings = {
        key: reading if reading.at_s is None else replace(reading, at_s=clock_s) for key, reading in evidence.readings.items()
    }
    flow = replace(evidence.flow, clock_s=evidence.flow.clock_s + (by_s if evidence.flow.proven else 0.0))
    return replace(
        evidence,
        clock_s=clock_s,
        now=an_instant(clock_s),
        readings=readings,
        flow=flow,
        clock_jump_s=0.0,
        samples=(),
        drops=(),
        foreign=(),
    )


def run(guard: Any, evidence: Evidence, memory: Any, for_s: float, every_s: float = 1.0) -> tuple[Any, Any, Evidence]:
    """Judges the same state again and again, `every_s` apart, for `for_s` seconds; the last verdict, memory and evidence."""
    verdict, memory = guard.judge(evidence, memory)
    for _ in range(round(for_s / every_s)):
        evidence = later(evidence, every_s)
        verdict, memory = guard.judge(evidence, memory)
    return verdict, memory, evidence
