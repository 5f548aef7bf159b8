"""Each row of the alarm list is raised by its fault after its delay and by nothing else; a healthy day raises none."""

from collections.abc import Callable
from dataclasses import dataclass, replace

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import TypeAdapter

from dosectl.core.alarms import ROWS, Alarm, AlarmChange, AlarmMemory, AlarmParams, AlarmView, Priority, row_of, standing, update
from dosectl.core.alarms.hiding import PARENTS
from dosectl.core.evidence import Evidence, StartFacts
from dosectl.core.requests.changes import Answer
from dosectl.model.feeds import FeederId
from dosectl.model.reasons import Code, Fact, Reason
from dosectl.model.signals import ForeignCommand, SignalKind, Status
from dosectl.model.verdicts import Denial, Limit, Verdict
from dosectl.model.water_tests import Quantity
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
    )
)


@dataclass(frozen=True)
class Bounds:
    low95_mg_l: float = 2.5
    high95_mg_l: float = 3.5


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
    return replace(evidence, start=StartFacts(begun[-1], clean, begun, {}))


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


def same(evidence: Evidence) -> Evidence:
    return evidence


# What makes each alarm: the evidence changed, the objections, anything else of the view. Typed from the alarm list.
FAULTS: dict[str, tuple[Callable[[Evidence], Evidence], Objections, dict[str, object]]] = {
    "feed.both_ran": (both_running, {}, {}),
    "feed.gas_hold": (same, denial("flow.gas.acid", "flow.gas_hold"), {}),
    "feed.runs_though_off": (lambda e: with_facts(e, ACID, running=True), {}, {}),
    "feed.siphon": (same, denial("change.unfed.ph", "change.without_feed"), {}),
    "water.orp_rise": (same, {CELL: denial("change.unfed.orp", "change.without_feed")[CELL]}, {}),
    "feed.no_response": (same, {CELL: limit("chlorine.response", "chlorine.no_response")[CELL]}, {}),
    "feed.learned_use": (same, limit("mass.learned", "mass.learned_cut"), {}),
    "feed.acid_overfed": (same, {ACID: denial("low.ph", "low.ph_overfed")[ACID]}, {}),
    "feed.does_not_run": (same, {ACID: denial("feeder.still.acid", "feeder.stands_still")[ACID]}, {}),
    "feed.cell_trouble": (same, {CELL: denial("salt.level", "salt.outside")[CELL]}, {}),
    "water.orp_high": (same, {CELL: denial("high.orp", "high.orp_over")[CELL]}, {}),
    "water.cold_for_cell": (same, {CELL: denial("cold.cell", "cold.under")[CELL]}, {}),
    "probe.still": (same, {ACID: denial("probe.liveness.ph", "liveness.still")[ACID]}, {}),
    "probe.disagree": (same, {ACID: denial("probe.agreement", "agreement.apart")[ACID]}, {}),
    "plan.waiting": (same, {ACID: denial("config.confirm", "config.unconfirmed")[ACID]}, {}),
    "run.restart_loop": (lambda e: starts(e, 3000.0, 2500.0, 2000.0, 1500.0, 1000.0, 700.0), {}, {}),
    "feed.foreign_command": (same, denial("owner.foreign", "owner.command"), {}),
    "feed.acid_budget_low": (same, {ACID: limit("acid.budget", "acid.budget_low")[CELL]}, {}),
    "feed.acid_budget_spent": (same, {ACID: denial("acid.budget", "acid.budget_spent")[ACID]}, {}),
    "feed.daily_limit": (twice_at_the_limit, limit("mass.day", "mass.day_limit", limit_mg_l=5.0, substance="chlorine"), {}),
    "feed.chlorine_stopped": (same, {CELL: denial("high.chlorine", "high.orp_x")[CELL]}, {}),
    "feed.acid_stopped": (same, {ACID: denial("acid.x", "acid.y")[ACID]}, {}),
    "feed.container_low": (lambda e: refilled(e, 2050.0), {}, {}),
    "feed.container_empty": (same, {ACID: denial("container.level", "container.empty")[ACID]}, {}),
    "water.ph_very_low": (lambda e: with_value(e, "ph", 6.49), {}, {}),
    "water.chlorine_very_high": (lambda e: with_value(e, "free_chlorine", 10.1), {}, {}),
    "water.chlorine_unexplained": (same, {}, {"water": Bounds(low95_mg_l=10.1, high95_mg_l=12.0)}),
    "water.ph_high": (lambda e: with_value(e, "ph", 8.25), {}, {}),
    "water.chlorine_low": (same, {}, {"water": Bounds(low95_mg_l=0.5, high95_mg_l=1.4)}),
    "water.fallback": (same, {}, {"fallback": True}),
    "water.freeze": (lambda e: with_value(e, "water_temp", 2.9), {}, {}),
    "water.test_due": (untested, {}, {}),
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
    "record.failing": (health(journal_ok=False), {}, {}),
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

    def look(self, objections: Objections | None = None, answers: tuple[Answer, ...] = (), **view: object) -> list[AlarmChange]:
        shown = {"water": Bounds(), "target_mg_l": 3.0, "fallback": False, **view}
        seen = AlarmView(self.evidence, objections or {}, **shown)  # type: ignore[arg-type]
        self.memory, changes = update(PARAMS, self.memory, seen, answers)
        self.changes += changes
        return list(changes)

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


@pytest.mark.parametrize("code", sorted(FAULTS))
def test_a_fault_raises_its_alarm_after_its_delay_and_no_other_grave_one(code: str) -> None:
    change, objections, view = FAULTS[code]
    row = row_of(Code(code))
    run = Run(change(healthy()))
    heard = run.look(objections, **view)
    every_s = min(60.0, row.on_delay_s) or 60.0
    if row.on_delay_s > 0.0:
        heard += run.stay(row.on_delay_s - every_s, every_s, objections, **view)
        assert (code, "raised") not in names(heard)
        heard += run.stay(every_s, every_s, objections, **view)
    assert (code, "raised") in names(heard)
    raised = next(change for change in heard if change.code == code)
    assert (raised.priority, raised.occurrence, raised.present, raised.acked) == (row.priority, 1, True, False)
    grave = {c.code for c in heard if c.change == "raised" and row_of(c.code).priority >= Priority.LOW} - {code}
    assert grave <= ALSO.get(code, set())


@pytest.mark.parametrize("code", sorted(FAULTS))
def test_the_alarm_goes_when_its_cause_is_gone_and_it_was_answered(code: str) -> None:
    change, objections, view = FAULTS[code]
    row = row_of(Code(code))
    run = Run(change(healthy()))
    run.look(objections, **view)
    run.stay(row.on_delay_s + 60.0, 60.0, objections, **view)
    run.look(objections, (Answer(Code(code), 1, "anna"),), **view)
    assert run.alarm(code).present
    assert run.alarm(code).acked
    run.evidence = later(healthy(), run.evidence.clock_s - CLOCK_S + 60.0)
    run.evidence = replace(run.evidence, tests=(*run.evidence.tests, a_test(Quantity.FREE_CHLORINE, 3.0, run.evidence.clock_s)))
    run.look()
    run.stay(row.off_delay_s + 700.0)
    assert run.alarm(code).normal
    assert code not in [alarm.code for alarm in standing(run.memory)]


def test_a_healthy_week_with_the_pump_off_each_night_raises_nothing() -> None:
    run = Run()
    idle = denial("flow.proven", "flow.unproven")
    for _ in range(7):
        tests = tuple(a_test(quantity, 5.0, run.evidence.clock_s) for quantity in (Quantity.FREE_CHLORINE, Quantity.PH))
        run.evidence = replace(run.evidence, tests=tests)
        run.evidence = with_flow(run.evidence, pump=True, flow=True, since_s=run.evidence.clock_s)
        run.look(idle)
        run.stay(300.0, objections=denial("flow.settle", "flow.settling"))
        run.stay(10 * 3600.0 - 300.0)
        run.evidence = with_flow(run.evidence, pump=False, flow=True)
        run.stay(20.0, 10.0, idle)
        run.evidence = with_flow(run.evidence, pump=False, flow=False)
        # Standing water at the probes means nothing: it may read anything.
        run.evidence = with_value(with_value(run.evidence, "ph", 8.6), "orp", 420.0)
        run.stay(7 * 3600.0, objections=idle, fallback=True)
        run.evidence = with_value(with_value(failing(run.evidence, "orp"), "sample_flow", False), "ph", 6.2)
        run.stay(7 * 3600.0 - 20.0, objections=idle, fallback=True)
        run.evidence = with_value(with_value(with_value(run.evidence, "ph", 7.5), "orp", 700.0), "sample_flow", True)
    assert names(run.changes) == []


def test_unknown_neither_raises_nor_clears() -> None:
    run = Run(with_value(healthy(), "ph", 6.3))
    run.stay(300.0)
    assert run.alarm("water.ph_very_low").present
    run.evidence = with_flow(run.evidence, pump=True, flow=None)
    assert names(run.stay(3600.0)) == [("flow.evidence_lost", "raised")]
    assert run.alarm("water.ph_very_low").present


def test_the_deadband_holds_an_alarm_until_the_value_is_well_back() -> None:
    run = Run(with_value(healthy(), "ph", 6.45))
    run.stay(180.0)
    run.evidence = with_value(run.evidence, "ph", 6.55)
    assert run.stay(7200.0) == []
    run.evidence = with_value(run.evidence, "ph", 6.65)
    assert names(run.stay(1740.0)) == []
    assert names(run.stay(120.0)) == [("water.ph_very_low", "cleared")]


def test_an_answer_never_clears_and_covers_only_its_occurrence() -> None:
    run = Run(health(journal_ok=False)(healthy()))
    run.look()
    assert run.look(answers=(Answer(Code("record.failing"), 2, "anna"),)) == []
    heard = run.look(answers=(Answer(Code("record.failing"), 1, "anna"),))
    assert [(c.change, c.by, c.present, c.acked) for c in heard] == [("answered", "anna", True, True)]
    assert [alarm.code for alarm in standing(run.memory)] == ["record.failing"]
    run.evidence = health(journal_ok=True)(run.evidence)
    run.stay(180.0)
    assert standing(run.memory) == ()
    run.evidence = health(journal_ok=False)(run.evidence)
    assert run.stay(60.0)[0].occurrence == 2
    assert not run.alarm("record.failing").acked


def test_a_latched_alarm_stays_listed_after_its_cause_until_it_is_answered() -> None:
    run = Run()
    run.look(denial("flow.gas.acid", "flow.gas_hold"))
    run.look()
    alarm = run.alarm("feed.gas_hold")
    assert (alarm.present, alarm.latched, alarm.acked) == (False, True, False)
    run.stay(30 * 86400.0, 3600.0)
    assert "feed.gas_hold" in [a.code for a in standing(run.memory)]
    run.look(answers=(Answer(Code("feed.gas_hold"), 1, "anna"),))
    assert "feed.gas_hold" not in [a.code for a in standing(run.memory)]


def test_a_notice_that_went_away_leaves_the_list_by_itself_after_a_day() -> None:
    run = Run(health(forward_backlog_s=90_000.0)(healthy()))
    run.look()
    run.evidence = health(forward_backlog_s=0.0)(run.evidence)
    run.stay(86_400.0, 3600.0)
    assert standing(run.memory)[0].code == "record.forward_delayed"
    assert ("record.forward_delayed", "let_go") in names(run.stay(3600.0, 1800.0))


def test_a_long_stop_of_chlorine_speaks_louder_with_flow_time_only() -> None:
    run = Run()
    held = {CELL: denial("high.chlorine", "x.y")[CELL]}
    run.look(held)
    assert names(run.stay(2 * 3600.0, objections=held)) == [("feed.chlorine_stopped", "raised")]
    run.evidence = with_flow(run.evidence, pump=False, flow=False)
    assert names(run.stay(12 * 3600.0, 600.0, held)) == []
    run.evidence = with_flow(run.evidence, pump=True, flow=True)
    heard = run.stay(4 * 3600.0, objections=held)
    assert [(c.change, c.priority) for c in heard] == [("risen", Priority.MEDIUM)]
    heard = run.stay(18 * 3600.0, objections=held)
    assert [(c.change, c.priority) for c in heard if c.code == "feed.chlorine_stopped"] == [("risen", Priority.HIGH)]


def test_a_low_raw_orp_speaks_up_though_the_estimate_sees_nothing() -> None:
    run = Run(with_value(healthy(), "orp", 590.0))
    heard = [change for change in run.stay(12.1 * 3600.0, 360.0) if change.change == "raised"]
    assert [(change.code, change.facts[0]) for change in heard] == [("water.chlorine_low", ("why", "alarm.orp_low"))]


def test_low_chlorine_is_seen_where_the_pump_runs_eight_hours_a_day() -> None:
    run = Run()
    for _ in range(2):
        run.evidence = with_value(with_flow(run.evidence, pump=True, flow=True, since_s=run.evidence.clock_s), "orp", 560.0)
        run.stay(8 * 3600.0, 300.0)
        run.evidence = with_flow(run.evidence, pump=False, flow=False)
        run.stay(16 * 3600.0, 600.0)
    assert ("water.chlorine_low", "raised") in names(run.changes)


def test_an_answered_alarm_speaks_again_while_it_is_still_present() -> None:
    run = Run(health(journal_ok=False)(healthy()))
    run.look()
    run.look(answers=(Answer(Code("record.failing"), 1, "anna"),))
    assert ("record.failing", "again") not in names(run.stay(11.9 * 3600.0, 360.0))
    assert ("record.failing", "again") in names(run.stay(720.0, 360.0))


def test_children_of_a_lost_broker_are_hidden_and_called_afresh_after_the_hold_off() -> None:
    run = Run(with_facts(health(bus_alive=False)(healthy()), ACID, node_age_s=900.0))
    heard = names(run.look()) + names(run.stay(3600.0))
    assert ("bus.broker_lost", "raised") in heard
    assert ("node.offline", "raised") not in heard
    run.evidence = health(bus_alive=True)(run.evidence)
    assert ("node.offline", "raised") not in names(run.stay(600.0))
    assert ("node.offline", "raised") in names(run.stay(600.0))


def test_service_hides_the_feeders_alarms_but_not_those_where_people_may_be_hurt() -> None:
    run = Run(with_facts(in_service(healthy(), "service"), ACID, running=True))
    objections = denial("feeder.still.acid", "feeder.stands_still")
    heard = names(run.look(objections)) + names(run.stay(3600.0, objections=objections))
    assert ("person.service", "raised") in heard
    assert ("feed.runs_though_off", "raised") in heard
    assert ("feed.does_not_run", "raised") not in heard


def test_too_few_pump_hours_are_noticed_once_a_day_is_on_record_and_speak_up_after_another() -> None:
    run = Run()
    run.look()
    run.stay(4 * 3600.0, 600.0)
    run.evidence = with_flow(run.evidence, pump=False, flow=False)
    assert names(run.stay(18 * 3600.0, 600.0)) == []
    assert names(run.stay(6 * 3600.0, 600.0)) == [("pump.hours_short", "raised")]
    heard = run.stay(24 * 3600.0, 600.0)
    assert [(change.change, change.priority) for change in heard] == [("risen", Priority.MEDIUM)]


def test_nothing_is_called_again_because_of_a_restart() -> None:
    run = Run(health(journal_ok=False)(healthy()))
    run.look()
    run.look(answers=(Answer(Code("record.failing"), 1, "anna"),))
    again = Run(starts(later(run.evidence, 30.0), 10.0), run.memory)
    assert names(again.look()) == []


def test_what_alarms_remember_survives_being_written_and_read() -> None:
    run = Run(with_value(health(journal_ok=False)(healthy()), "ph", 6.3))
    run.stay(60.0)
    run.look(denial("flow.gas.acid", "flow.gas_hold", ran_s=12.5, feeder="acid"), (Answer(Code("record.failing"), 1, "anna"),))
    adapter = TypeAdapter(AlarmMemory)
    assert adapter.validate_json(adapter.dump_json(run.memory)) == run.memory


def test_a_foreign_command_is_kept_though_it_is_seen_for_one_step_only() -> None:
    command = ForeignCommand("pool/feeder/acid/command", "other", an_instant())
    run = Run(replace(healthy(), foreign=(command,)))
    assert names(run.look()) == [("feed.foreign_command", "raised")]
    run.stay(600.0)
    assert [alarm.code for alarm in standing(run.memory)] == ["feed.foreign_command"]


def test_where_nothing_changes_the_memory_is_the_same_object() -> None:
    run = Run(health(journal_ok=False)(healthy()))
    run.look()
    before = run.memory
    run.evidence = later(run.evidence, 5.0)
    run.look()
    assert run.memory is before


@given(st.lists(st.tuples(st.sampled_from(sorted(FAULTS)), st.integers(1, 120), st.booleans()), min_size=1, max_size=12))
def test_whatever_comes_and_goes_no_unanswered_grave_alarm_is_lost(history: list[tuple[str, int, bool]]) -> None:
    run = Run()
    open_ones: set[str] = set()
    for code, minutes, answer in history:
        change, objections, view = FAULTS[code]
        run.evidence = change(later(healthy(), run.evidence.clock_s - CLOCK_S + 60.0))
        heard = run.look(objections, **view) + run.stay(minutes * 60.0, 300.0, objections, **view)
        open_ones |= {str(c.code) for c in heard if c.change == "raised" and c.priority >= Priority.MEDIUM}
        if answer:
            given = tuple(Answer(alarm.code, alarm.occurrence, "anna") for alarm in standing(run.memory))
            run.look(objections, given, **view)
            open_ones = set()
        assert open_ones <= {alarm.code for alarm in standing(run.memory)}
        for alarm in run.memory.alarms:
            assert alarm.occurrence >= 0
            assert alarm.acked or alarm.occurrence > 0


def test_every_row_has_a_fault_that_raises_it() -> None:
    needs_a_day_on_record = {"pump.hours_short"}  # has a test of its own
    assert {row.code for row in ROWS} == set(FAULTS) | needs_a_day_on_record


def test_the_table_has_no_blank_field_and_few_critical_rows() -> None:
    assert len({row.code for row in ROWS}) == len(ROWS)
    assert sum(row.priority is Priority.CRITICAL for row in ROWS) <= 8
    parents = {name for name, _ in PARENTS}
    for row in ROWS:
        for text in (row.title, row.consequence, row.respond_within, row.does, row.response):
            assert text.strip() == text != ""
        assert set(row.hidden_by) <= parents
        levels = [row.priority, *(priority for _, priority in row.rises)]
        assert levels == sorted(set(levels))
        ages = [age for age, _ in row.rises]
        assert ages == sorted(ages)
        if row.priority is Priority.CRITICAL:
            assert not set(row.hidden_by) - {Code("pump_off"), Code("service")}
