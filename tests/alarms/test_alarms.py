"""Each row of the alarm list is raised by its fault after its delay and by nothing else; a healthy day raises none."""

from dataclasses import replace
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import TypeAdapter

from dosectl.core.alarms import ROWS, AlarmMemory, Priority, row_of, standing
from dosectl.core.alarms.hiding import PARENTS
from dosectl.core.requests.changes import Answer
from dosectl.model.reasons import Code
from dosectl.model.signals import ForeignCommand
from dosectl.model.water_tests import Quantity
from tests.alarms.faults import ALSO, FAULTS, Run, both_running, denial, failing, health, healthy, in_service, names, starts
from tests.builders import (
    ACID,
    CELL,
    CLOCK_S,
    a_test,
    an_instant,
    later,
    with_facts,
    with_flow,
    with_value,
)


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


def test_a_feeder_whose_command_has_yet_to_end_by_itself_is_not_called_as_running_though_off() -> None:
    """An OFF that gets lost: the node ends the command by its own expiry, and nobody is sent to the wall for that."""
    run = Run(with_facts(healthy(), ACID, running=True, life_ends_s=CLOCK_S + 9.0))
    heard = names(run.look()) + names(run.stay(12.0, 1.0))
    assert ("feed.runs_though_off", "raised") not in heard
    assert ("feed.runs_though_off", "raised") in names(run.stay(1.0, 1.0))


def test_a_feeder_that_runs_at_the_start_is_called_once_the_node_has_had_its_expiry() -> None:
    """What a run before this one commanded may live on for as long as the node lets it."""
    evidence = healthy()
    evidence = replace(evidence, start=replace(evidence.start, started_s=CLOCK_S))
    run = Run(with_facts(evidence, ACID, running=True))
    expires_s = evidence.site.expires_s
    heard = names(run.look()) + names(run.stay(expires_s + 3.0, 1.0))
    assert ("feed.runs_though_off", "raised") not in heard
    assert ("feed.runs_though_off", "raised") in names(run.stay(1.0, 1.0))


def test_a_ph_electrode_that_reads_seven_in_any_water_is_told_as_a_broken_probe() -> None:
    run = Run(healthy())
    run.look()
    objections = denial("probe.glass", "glass.seven", signal="ph", before=7.6, value=7.0)
    heard = names(run.stay(120.0, 10.0, objections=objections))
    assert heard == [("probe.failure", "raised")]


def test_too_few_pump_hours_are_noticed_once_a_day_is_on_record_and_speak_up_after_another() -> None:
    run = Run()
    run.look()
    run.stay(4 * 3600.0, 600.0)
    run.evidence = with_flow(run.evidence, pump=False, flow=False)
    assert names(run.stay(18 * 3600.0, 600.0)) == []
    assert names(run.stay(6 * 3600.0, 600.0)) == [("pump.hours_short", "raised")]
    heard = run.stay(24 * 3600.0, 600.0)
    assert [(change.change, change.priority) for change in heard] == [("risen", Priority.MEDIUM)]


def test_what_stands_for_weeks_and_is_answered_each_time_speaks_up_more_and_more_seldom() -> None:
    """Thirty days of a fault that nobody can mend, each call answered at once: some dozen calls, not sixty."""
    run = Run(health(journal_ok=False)(healthy()))
    run.look()
    called_h = [0]
    for hour in range(1, 30 * 24):
        run.answer("record.failing")
        if ("record.failing", "again") in names(run.stay(3600.0, 3600.0)):
            called_h.append(hour)
    gaps = [after - before for before, after in pairwise(called_h)]
    assert gaps[0] == 12
    assert gaps == sorted(gaps)
    assert max(gaps) <= 73
    assert 10 <= len(gaps) <= 20


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
    run.stay(10.0, 5.0)  # the call is gathered for some seconds
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


def test_feedback_that_overlaps_for_an_instant_is_no_alarm_without_the_guard_that_judges_it() -> None:
    """Feedback of two feeders is not sampled at one instant: the alarm and the lock must have one measure, the guard's."""
    run = Run(both_running(healthy()))
    assert ("feed.both_ran", "raised") not in names(run.look())
