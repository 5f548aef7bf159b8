"""What makes each alarm, typed from the alarm list; and a run that steps a state through time."""

from collections.abc import Callable
from dataclasses import dataclass, replace

from dosectl.core.alarms import Alarm, AlarmChange, AlarmMemory, AlarmParams, AlarmView, calls, update
from dosectl.core.evidence import Evidence, Proof, StartFacts
from dosectl.core.requests.changes import Answer
from dosectl.model.alarm_acts import ActKind, AlarmAct
from dosectl.model.calls import Call
from dosectl.model.feeds import FeederId
from dosectl.model.reasons import Code, Fact, Reason
from dosectl.model.signals import SignalKind, Status
from dosectl.model.verdicts import Denial, Limit, Verdict
from dosectl.model.water_tests import Foretold, Quantity
from tests.builders import (
    ACID,
    CELL,
    CLOCK_S,
    a_ledger,
    a_reading,
    a_signal,
    a_site,
    a_test,
    an_evidence,
    an_instant,
    later,
    with_facts,
    with_flow,
    with_reading,
    with_value,
)

PARAMS = AlarmParams()
SITE = a_site(
    more_signals=(
        a_signal(SignalKind.SAMPLE_FLOW),
        a_signal(SignalKind.FREE_CHLORINE),
        a_signal(SignalKind.WATER_PATH),
        a_signal(SignalKind.STOP_INPUT),
        a_signal(SignalKind.SUNLIGHT),
    )
)


@dataclass(frozen=True)
class Bounds:
    low95_mg_l: float = 2.5
    high95_mg_l: float = 3.5
    arrives: float = 1.0
    arrives_log_sigma: float = 0.1
    temp_c: float = 26.0
    ph_sigma: float = 0.08
    dark_h: float = 0.0


Objections = dict[FeederId, tuple[Verdict, ...]]


def healthy() -> Evidence:
    tests = (a_test(Quantity.FREE_CHLORINE, 3.0), a_test(Quantity.PH, 7.5))
    return an_evidence(SITE, tests=tests)


def denial(guard: str, code: str, **facts: Fact) -> Objections:
    why = Reason(Code(code), tuple(facts.items()), an_instant())
    verdict = Denial(Code(guard), why, False, Code("itself"))
    return {CELL: (verdict,), ACID: (verdict,)}


def limit(guard: str, code: str, **facts: Fact) -> Objections:
    return {CELL: (Limit(Code(guard), 0.1, Reason(Code(code), tuple(facts.items()), an_instant())),)}


def refilled(evidence: Evidence, used_g: float) -> Evidence:
    """5 L of acid filled in 1000 s ago, some of it fed since; 2 mL a gram."""
    book = a_ledger(SITE, {ACID: ((CLOCK_S - 500.0, used_g),)})
    return replace(evidence, ledger=book, standing=replace(evidence.standing, refills=((ACID, CLOCK_S - 1000.0, 5000.0),)))


def starts(evidence: Evidence, *ago_s: float, clean: bool = True) -> Evidence:
    begun = tuple(sorted(CLOCK_S - ago for ago in ago_s))
    return replace(evidence, start=StartFacts(begun[-1], clean, begun, {}, 0.0))


def failing(evidence: Evidence, name: str) -> Evidence:
    return with_reading(evidence, a_reading(name, None, Status.FAILURE, at_s=CLOCK_S))


def doubted(evidence: Evidence) -> Evidence:
    why = Reason(Code("message.doubt"), (), an_instant())
    return with_reading(evidence, a_reading("ph", None, Status.UNKNOWN, why=why))


def twice_at_the_limit(evidence: Evidence) -> Evidence:
    return replace(evidence, ledger=a_ledger(SITE, {CELL: ((CLOCK_S - 100_000.0, 250.0), (CLOCK_S - 10.0, 250.0))}))


def in_service(evidence: Evidence, which: str) -> Evidence:
    why = Reason(Code("stop.manual"), (("by", "anna"),), an_instant())
    return replace(evidence, standing=replace(evidence.standing, **{which: why}))


def health(**changes: object) -> Callable[[Evidence], Evidence]:
    return lambda evidence: replace(evidence, health=replace(evidence.health, **changes))  # type: ignore[arg-type]


def both_running(evidence: Evidence) -> Evidence:
    return with_facts(with_facts(evidence, CELL, running=True, asked_on=True), ACID, running=True, asked_on=True)


def untested(evidence: Evidence) -> Evidence:
    return replace(evidence, tests=(a_test(Quantity.PH, 7.5), a_test(Quantity.FREE_CHLORINE, 3.0, CLOCK_S - 605_000.0)))


def unfed(evidence: Evidence) -> Evidence:
    """Three days without a feed and without a test; 2.4 mg/L a day is usual."""
    tests = (a_test(Quantity.PH, 7.5), a_test(Quantity.FREE_CHLORINE, 3.0, CLOCK_S - 300_000.0))
    start = replace(evidence.start, started_s=CLOCK_S - 400_000.0, starts_s=())
    return replace(evidence, tests=tests, start=start, ledger=a_ledger(SITE, {}))


def unproven(evidence: Evidence) -> Evidence:
    old = Proof(ACID, "digest", "", False, False, "2025-01-01T10:00:00Z", "owner")
    return replace(evidence, standing=replace(evidence.standing, proofs=(old,)))


def uncalibrated(evidence: Evidence) -> Evidence:
    """pH was checked 61 days ago."""
    done = (next(signal.id for signal in SITE.signals if signal.kind is SignalKind.PH), CLOCK_S - 61.0 * 86400.0)
    return replace(evidence, standing=replace(evidence.standing, calibrated=(done,)))


def just_tested(value: float) -> Callable[[Evidence], Evidence]:
    """Free chlorine was just tested; what was believed before it stands in FORETOLD."""
    return lambda evidence: replace(evidence, tests=(a_test(Quantity.PH, 7.5), a_test(Quantity.FREE_CHLORINE, value)))


FORETOLD = (Foretold(a_test(Quantity.FREE_CHLORINE, 3.0).request, Quantity.FREE_CHLORINE, 3.0, 2.5, 3.6),)


def worn(evidence: Evidence) -> Evidence:
    """The cell has given what 8001 hours of full output give."""
    book = a_ledger(SITE, {CELL: ((CLOCK_S - 20.0 * 86400.0, 8001.0 * 3600.0 * SITE.feeder(CELL).rate_g_s),)})
    return replace(evidence, ledger=book)


def same(evidence: Evidence) -> Evidence:
    return evidence


# What makes each alarm: the evidence changed, the objections, anything else of the view. Typed from the alarm list.
FAULTS: dict[str, tuple[Callable[[Evidence], Evidence], Objections, dict[str, object]]] = {
    "feed.both_ran": (same, denial("lockout.both", "lockout.both_ran", first="cell", second="acid"), {}),
    "feed.gas_hold": (same, denial("flow.gas.acid", "flow.gas_hold"), {}),
    "feed.dry_unheard": (same, denial("flow.gas.acid", "flow.gas_unheard"), {}),
    "feed.runs_though_off": (lambda e: with_facts(e, ACID, running=True), {}, {}),
    "feed.siphon": (same, denial("change.unfed.ph", "change.without_feed"), {}),
    "water.orp_rise": (same, {CELL: denial("change.unfed.orp", "change.without_feed")[CELL]}, {}),
    "feed.no_response": (same, {CELL: limit("chlorine.response", "chlorine.no_response")[CELL]}, {}),
    "water.test_contradicted": (same, {CELL: limit("test.contradicted", "test.contradicted")[CELL]}, {}),
    "water.chlorine_tested": (same, {CELL: limit("high.tested", "high.tested_over")[CELL]}, {}),
    "feed.learned_use": (same, limit("mass.learned", "mass.learned_cut"), {}),
    "feed.acid_overfed": (same, {ACID: denial("low.ph", "low.ph_overfed")[ACID]}, {}),
    "feed.does_not_run": (same, {ACID: denial("feeder.still.acid", "feeder.stands_still")[ACID]}, {}),
    "feed.cell_trouble": (same, {CELL: denial("salt.level", "salt.outside")[CELL]}, {}),
    "water.orp_high": (same, {CELL: denial("high.orp", "high.orp_over")[CELL]}, {}),
    "water.cold_for_cell": (same, {CELL: denial("cold.cell", "cold.under")[CELL]}, {}),
    "guards.unable": (same, {}, {"unable": ("feeder.runs",)}),
    "probe.still": (same, {ACID: denial("probe.liveness.ph", "liveness.still")[ACID]}, {}),
    "probe.disagree": (same, {ACID: denial("probe.agreement", "agreement.apart")[ACID]}, {}),
    "plan.waiting": (same, {ACID: denial("config.confirm", "config.unconfirmed")[ACID]}, {}),
    "run.restart_loop": (lambda e: starts(e, 3000.0, 2500.0, 2000.0, 1500.0, 1000.0, 700.0), {}, {}),
    "feed.unseen": (same, denial("feeder.unseen.acid", "feeder.unseen", feeder="acid"), {}),
    "feed.foreign_command": (same, denial("owner.foreign", "owner.command"), {}),
    "feed.acid_budget_low": (same, {ACID: limit("acid.budget", "acid.budget_low")[CELL]}, {}),
    "feed.acid_budget_spent": (same, {ACID: denial("acid.budget", "acid.budget_spent")[ACID]}, {}),
    "feed.daily_limit": (twice_at_the_limit, limit("mass.day", "mass.day_limit", limit_mg_l=5.0, substance="chlorine"), {}),
    "feed.weak": (same, {}, {"water": Bounds(arrives=0.5)}),
    "feed.cover_held": (same, {CELL: limit("cover.closed", "cover.held")[CELL]}, {}),
    "feed.chlorine_stopped": (same, {CELL: denial("high.chlorine", "high.orp_x")[CELL]}, {}),
    "feed.acid_stopped": (same, {ACID: denial("acid.x", "acid.y")[ACID]}, {}),
    "feed.container_low": (lambda e: refilled(e, 2050.0), {}, {}),
    "feed.container_empty": (same, {ACID: denial("container.level", "container.empty")[ACID]}, {}),
    "water.ph_very_low": (lambda e: with_value(e, "ph", 6.49), {}, {}),
    "water.chlorine_very_high": (lambda e: with_value(e, "free_chlorine", 10.1), {}, {}),
    "water.chlorine_unexplained": (same, {}, {"water": Bounds(low95_mg_l=10.1, high95_mg_l=12.0)}),
    "water.ph_high": (lambda e: with_value(e, "ph", 8.25), {}, {}),
    "water.chlorine_gone": (same, {}, {"water": Bounds(low95_mg_l=0.5, high95_mg_l=1.4)}),
    "water.chlorine_low": (same, {}, {"water": Bounds(low95_mg_l=0.9, high95_mg_l=2.1)}),
    "water.fallback": (same, {}, {"fallback": True}),
    "water.unsure": (same, {}, {"unsure": True}),
    "water.freeze": (lambda e: with_value(e, "water_temp", 2.9), {}, {}),
    "water.test_due": (untested, {}, {}),
    "probe.unfed_days": (unfed, {}, {}),
    "water.test_differs": (just_tested(1.2), {}, {"foretold": FORETOLD}),
    "person.away_alone": (health(persons=1), {}, {"away": True}),
    "probe.signal_silent": (lambda e: failing(e, "water_temp"), {}, {}),
    "probe.sunlight_dark": (same, {}, {"water": Bounds(dark_h=6.1)}),
    "probe.failure": (lambda e: failing(e, "orp"), {}, {}),
    "probe.sample_flow": (lambda e: with_value(e, "sample_flow", False), {}, {}),
    "flow.lost": (lambda e: with_flow(e, pump=True, flow=False), {}, {}),
    "flow.unsteady": (same, denial("flow.proven", "flow.proving", proving_s=600.0), {}),
    "flow.evidence_lost": (lambda e: failing(e, "flow"), {}, {}),
    "flow.dishonest": (same, denial("flow.honesty", "flow.dishonest"), {}),
    "messages.doubt": (doubted, {}, {}),
    "node.offline": (lambda e: with_facts(e, ACID, node_age_s=61.0), {}, {}),
    "bus.broker_lost": (health(bus_alive=False), {}, {}),
    "run.unclean_start": (lambda e: starts(e, 90.0, clean=False), {}, {}),
    "run.restarts": (lambda e: starts(e, 1800.0, 1000.0, 700.0), {}, {}),
    "run.guard_failed": (same, denial("arbiter", "arbiter.guard_failed"), {}),
    "run.behind": (same, denial("queue.age", "queue.behind"), {}),
    "run.adapter_fault": (health(faults=(Code("calendar.missed"),)), {}, {}),
    "calls.failing": (health(faults=(Code("notify.mail"),)), {}, {}),
    "probe.calibration_due": (uncalibrated, {}, {}),
    "plan.proof_due": (unproven, {}, {}),
    "upkeep.part_worn": (worn, {}, {}),
    "record.failing": (health(journal_ok=False), {}, {}),
    "record.gap": (same, {CELL: limit("record.gap", "record.gap_chlorine")[CELL]}, {}),
    "record.forward_delayed": (health(forward_backlog_s=90_000.0), {}, {}),
    "clock.doubt": (health(clock_trusted=False), {}, {}),
    "person.service": (lambda e: in_service(e, "service"), {}, {}),
    "person.stop": (lambda e: in_service(e, "stop"), {}, {}),
}  # fmt: skip
ALSO = {  # alarms that a fault rightly makes beside its own
    "flow.lost": {"pump.hours_short"},
    "messages.doubt": {"probe.failure"},
    "run.restart_loop": {"run.restarts"},
}


class Run:
    """Steps a state through time and collects what alarms say."""

    def __init__(self, evidence: Evidence | None = None, memory: AlarmMemory | None = None) -> None:
        self.evidence = healthy() if evidence is None else evidence
        self.memory = AlarmMemory() if memory is None else memory
        self.changes: list[AlarmChange] = []
        self.calls: list[Call] = []

    def look(
        self,
        objections: Objections | None = None,
        answers: tuple[Answer, ...] = (),
        acts: tuple[AlarmAct, ...] = (),
        **view: object,
    ) -> list[AlarmChange]:
        shown = {"water": Bounds(), "target_mg_l": 3.0, "fallback": False, **view}
        seen = AlarmView(self.evidence, objections or {}, **shown)  # type: ignore[arg-type]
        self.memory, changes = update(PARAMS, self.memory, seen, answers, acts)
        plan = calls(changes, self.memory, self.evidence.now, self.evidence.clock_s)
        if plan.memory is not self.memory.calls:
            self.memory = replace(self.memory, calls=plan.memory)
        self.changes += changes
        self.calls += plan.calls
        return list(changes)

    def answer(self, code: str, objections: Objections | None = None, **view: object) -> None:
        self.look(objections, (Answer(Code(code), self.alarm(code).occurrence, "anna"),), **view)

    def act(self, kind: ActKind, code: str, for_s: float = 0.0, objections: Objections | None = None, **view: object) -> None:
        self.look(objections, acts=(AlarmAct(kind, Code(code), "anna", "being mended", for_s),), **view)

    def stay(
        self, for_s: float, every_s: float = 60.0, objections: Objections | None = None, **view: object
    ) -> list[AlarmChange]:
        heard: list[AlarmChange] = []
        for _ in range(round(for_s / every_s)):
            self.evidence = later(self.evidence, every_s)
            heard += self.look(objections, **view)
        return heard

    def alarm(self, code: str) -> Alarm:
        return next(alarm for alarm in self.memory.alarms if alarm.code == code)


def names(changes: list[AlarmChange]) -> list[tuple[str, str]]:
    return [(change.code, change.change) for change in changes]


def told(calls: list[Call]) -> list[tuple[str, str, tuple[str, ...]]]:
    return [(call.code, call.change, call.folded) for call in calls]
