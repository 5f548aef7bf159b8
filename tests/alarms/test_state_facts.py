"""The independent facts of an alarm and the one name derived from them: every cell of the table, and what must never happen."""

from dataclasses import replace
from itertools import product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from dosectl.core.alarms import ROWS, Alarm, AlarmMemory, Priority, StateName, row_of, standing, state_of
from dosectl.core.alarms.aside import SHELF_S
from dosectl.core.alarms.hiding import WORDS
from dosectl.core.alarms.states import put_aside
from dosectl.core.alarms.view import Aside
from dosectl.core.requests.changes import Answer
from dosectl.model.alarm_acts import ActKind, AlarmAct
from dosectl.model.reasons import Code
from dosectl.store.durable import PartCodec
from tests.alarms.faults import FAULTS, Run, denial, health, healthy, in_service, names
from tests.builders import ACID, CLOCK_S, an_instant, later, with_facts, with_flow, with_value

HOUR_S, DAY_S = 3600.0, 86400.0
CODE = Code("probe.still")
HELD = {ACID: denial("probe.liveness.ph", "liveness.still")[ACID]}  # raises probe.still, medium, at once
ASIDE = Aside(1.0, an_instant(), "anna", "mended")
CODEC = PartCodec(AlarmMemory)

# Typed from the table of states: (present, acked, latched) to its name where nothing is put aside or hidden.
TABLE = {
    (False, True, False): StateName.NORMAL,
    (True, False, False): StateName.UNACKED,
    (True, False, True): StateName.UNACKED,
    (True, True, False): StateName.ACKED,
    (True, True, True): StateName.ACKED,
    (False, False, False): StateName.RETURNED,
    (False, False, True): StateName.LATCHED_UNACKED,
    (False, True, True): StateName.LATCHED_ACKED,
}


@pytest.mark.parametrize("facts", list(product((False, True), repeat=6)))
def test_every_combination_of_facts_has_one_name(facts: tuple[bool, ...]) -> None:
    present, acked, latched, shelved, hidden, out = facts
    alarm = Alarm(
        CODE, 1, present, acked, latched,
        shelf=ASIDE if shelved else None, out=ASIDE if out else None, hidden=Code("pump_off") if hidden else None,
    )  # fmt: skip
    plain = TABLE[(present, acked, latched)]
    wanted = StateName.SUPPRESSED if hidden and plain is not StateName.NORMAL else plain
    assert state_of(alarm) is (StateName.OUT_OF_SERVICE if out else StateName.SHELVED if shelved else wanted)


def still(run: Run | None = None) -> Run:
    run = run or Run()
    run.look(HELD)
    return run


def test_a_shelved_alarm_is_silent_listed_and_calls_afresh_when_its_time_is_up() -> None:
    run = still()
    run.act(ActKind.SHELVE, CODE, 3 * HOUR_S, HELD)
    assert state_of(run.alarm(CODE)) is StateName.SHELVED
    assert [alarm.code for alarm in put_aside(run.memory)] == [CODE]
    heard = run.stay(3 * HOUR_S - 60.0, 60.0, HELD)
    assert (run.calls, [c for c in names(heard) if c[0] == CODE]) == ([], [])
    heard = run.stay(120.0, 20.0, HELD)
    assert (CODE, "unshelved") in names(heard)
    assert [(call.code, call.change) for call in run.calls] == [(CODE, "again")]
    assert state_of(run.alarm(CODE)) is StateName.UNACKED


def test_an_answered_alarm_comes_back_from_the_shelf_unanswered() -> None:
    run = still()
    run.answer(CODE, HELD)
    run.act(ActKind.SHELVE, CODE, HOUR_S, HELD)
    run.act(ActKind.UNSHELVE, CODE, objections=HELD)
    assert state_of(run.alarm(CODE)) is StateName.UNACKED


@pytest.mark.parametrize(("code", "priority"), [("record.failing", Priority.HIGH), ("probe.still", Priority.MEDIUM)])
def test_no_shelf_is_longer_than_its_priority_allows(code: str, priority: Priority) -> None:
    change, objections, view = FAULTS[code]
    run = Run(change(healthy()))
    run.look(objections, **view)
    run.act(ActKind.SHELVE, code, 30 * DAY_S, objections, **view)
    shelf = run.alarm(code).shelf
    assert shelf is not None
    assert shelf.until_s - run.evidence.clock_s == SHELF_S[priority]
    assert SHELF_S == {Priority.NOTICE: 7 * DAY_S, Priority.LOW: 7 * DAY_S, Priority.MEDIUM: DAY_S, Priority.HIGH: 4 * HOUR_S}


@pytest.mark.parametrize("kind", [ActKind.SHELVE, ActKind.TAKE_OUT])
def test_critical_is_never_put_aside_whatever_was_granted(kind: ActKind) -> None:
    run = Run()
    gas = denial("flow.gas.acid", "flow.gas_hold")
    run.look(gas)
    run.act(kind, "feed.gas_hold", HOUR_S, gas)
    assert not run.alarm("feed.gas_hold").aside


def test_a_rise_ends_the_shelf() -> None:
    run = Run(in_service(healthy(), "stop"))
    run.look()
    run.act(ActKind.SHELVE, "person.stop", 7 * DAY_S)
    run.stay(5 * HOUR_S, 300.0)
    assert run.alarm("person.stop").shelf is None
    assert [(call.change, call.priority) for call in run.calls] == [("risen", Priority.MEDIUM)]


def test_a_fourth_shelf_is_not_given() -> None:
    pairs = (("probe.liveness.ph", "liveness.still"), ("feeder.still.acid", "feeder.stands_still"),
             ("acid.budget", "acid.budget_low"), ("probe.agreement", "agreement.apart"))  # fmt: skip
    many = {ACID: tuple(verdict for guard, code in pairs for verdict in denial(guard, code)[ACID])}
    run = Run()
    run.look(many)
    codes = ["probe.still", "feed.does_not_run", "feed.acid_budget_low", "probe.disagree"]
    for code in codes:
        run.act(ActKind.SHELVE, code, HOUR_S, many)
    assert [run.alarm(code).shelf is not None for code in codes] == [True, True, True, False]


def test_out_of_service_ends_after_at_most_seven_days_and_calls_if_it_stands() -> None:
    run = Run()
    run.act(ActKind.TAKE_OUT, CODE, 30 * DAY_S)
    assert state_of(run.alarm(CODE)) is StateName.OUT_OF_SERVICE
    run.stay(7 * DAY_S - HOUR_S, HOUR_S / 2, HELD)
    assert [call for call in run.calls if call.code == CODE] == []
    run.stay(2 * HOUR_S, 600.0, HELD)
    assert [call.code for call in run.calls if call.code == CODE] == [CODE]
    assert state_of(run.alarm(CODE)) is StateName.UNACKED


def test_a_mark_of_no_use_is_recorded_and_changes_nothing_else() -> None:
    run = still()
    before = run.alarm(CODE)
    run.act(ActKind.USELESS, CODE, objections=HELD)
    assert run.alarm(CODE) == before
    assert [(c.change, c.by, c.note) for c in run.changes if c.change == "useless"] == [("useless", "anna", "being mended")]


def test_a_hidden_alarm_says_because_of_what_and_both_turns_are_recorded() -> None:
    run = still()
    run.evidence = with_flow(run.evidence, pump=False, flow=False)
    run.stay(120.0, 60.0, HELD)
    assert state_of(run.alarm(CODE)) is StateName.SUPPRESSED
    assert run.alarm(CODE).hidden in WORDS
    run.evidence = with_flow(run.evidence, pump=True, flow=True)
    run.stay(700.0, 50.0, HELD)
    assert state_of(run.alarm(CODE)) is StateName.UNACKED
    turns = [(c.change, c.note) for c in run.changes if c.code == CODE and c.change in ("hidden", "shown")]
    assert turns == [("hidden", "pump_off"), ("shown", "pump_off")]


def test_a_deeper_deviation_is_a_new_occurrence_that_the_old_answer_does_not_cover() -> None:
    run = Run(with_value(healthy(), "ph", 6.45))
    run.stay(180.0)
    run.answer("water.ph_very_low")
    run.evidence = with_value(run.evidence, "ph", 6.2)
    assert names(run.stay(60.0)) == []
    run.evidence = with_value(run.evidence, "ph", 6.14)
    assert names(run.stay(60.0)) == [("water.ph_very_low", "worse")]
    alarm = run.alarm("water.ph_very_low")
    assert (alarm.occurrence, alarm.acked, alarm.present) == (2, False, True)
    run.look(answers=(Answer(Code("water.ph_very_low"), 1, "anna"),))
    assert not run.alarm("water.ph_very_low").acked
    assert [call.key for call in run.calls] == ["water.ph_very_low:1", "water.ph_very_low:2"]


ACTS = st.sampled_from(sorted(ActKind))
MOVES = st.lists(
    st.tuples(
        st.sampled_from([None, *sorted(FAULTS)]),  # what is wrong now
        st.sampled_from([1.0, 30.0, 700.0, 5000.0, 90_000.0]),  # for how long
        st.sampled_from(["", "answer", "old", "act"]),
        ACTS,
        st.booleans(),  # the pump runs
    ),
    min_size=1,
    max_size=7,
)


@settings(max_examples=60, deadline=None)
@given(MOVES)
def test_whatever_happens_nothing_grave_is_lost_and_a_restart_changes_nothing(
    moves: list[tuple[str | None, float, str, ActKind, bool]],
) -> None:
    run = Run()
    for code, stay_s, then, kind, pump in moves:
        change, objections, view = FAULTS[code] if code else (lambda evidence: evidence, {}, {})
        at_s = run.evidence.clock_s
        run.evidence = later(change(healthy()), at_s - CLOCK_S)
        if not pump:
            run.evidence = with_flow(run.evidence, pump=False, flow=False)
        before = run.memory
        run.stay(stay_s, max(1.0, stay_s / 5.0), objections, **view)
        open_before = {(a.code, a.occurrence) for a in before.alarms if not a.acked and row_of(a.code).priority > Priority.LOW}
        listed = {alarm.code for alarm in standing(run.memory)}
        assert {code for code, _ in open_before if row_of(code).priority is Priority.CRITICAL} <= listed
        if then in ("answer", "old"):
            back = 0 if then == "answer" else 1
            given = tuple(Answer(a.code, a.occurrence - back, "anna") for a in standing(run.memory))
            was = {alarm.code: alarm for alarm in run.memory.alarms}
            run.look(objections, given, **view)
            for alarm in run.memory.alarms:
                if alarm.code in was and then == "answer" and was[alarm.code].present:
                    assert alarm.present or alarm.cleared_s == run.evidence.clock_s  # an answer never clears
        elif then == "act":
            acts = tuple(AlarmAct(kind, a.code, "anna", "because", 2 * HOUR_S) for a in standing(run.memory))
            run.look(objections, acts=acts, **view)
        check(run)
        kept = CODEC.decode(CODEC.encode(run.memory))
        assert kept == run.memory
        apart, joined = Run(run.evidence, kept), Run(run.evidence, run.memory)
        assert apart.stay(60.0, 20.0, objections, **view) == joined.stay(60.0, 20.0, objections, **view)
        assert (apart.memory, apart.calls) == (joined.memory, joined.calls)


def check(run: Run) -> None:
    assert sum(alarm.shelf is not None for alarm in run.memory.alarms) <= 3
    active = {hiding.name for hiding in run.memory.hidings}
    for alarm in run.memory.alarms:
        row = row_of(alarm.code)
        if row.priority is Priority.CRITICAL:
            assert not alarm.aside
        if alarm.hidden is not None:
            assert alarm.hidden in row.hidden_by
            assert alarm.hidden in active
            assert alarm.hidden in WORDS
        if alarm.shelf is not None:
            assert alarm.shelf.until_s > run.evidence.clock_s
        assert len(alarm.edges_s) <= 8
    for change in run.changes:
        if change.priority is Priority.CRITICAL and change.change in ("raised", "worse"):
            assert f"{change.code}:{change.occurrence}" in {call.key for call in run.calls}


def test_every_change_of_state_is_a_record() -> None:
    run = Run(health(bus_alive=False)(healthy()))
    before: dict[Code, StateName] = {}
    for minute in range(240):
        if minute == 60:
            run.answer("bus.broker_lost")
        if minute == 120:
            run.evidence = health(bus_alive=True)(run.evidence)
        if minute == 200:
            run.evidence = with_facts(run.evidence, ACID, node_age_s=90.0)
        told = {change.code for change in (*run.changes[-1:], *run.stay(60.0, 60.0))}
        after = {alarm.code: state_of(alarm) for alarm in run.memory.alarms}
        moved = {code for code, name in after.items() if before.get(code, StateName.NORMAL) is not name}
        assert moved <= told
        before = after
    assert {row.code for row in ROWS} >= set(before)
    assert replace(run.memory) == run.memory


def test_a_memory_kept_by_an_earlier_version_is_read_with_nothing_put_aside() -> None:
    body = (
        b'[{"alarms":[{"code":"flow.lost","occurrence":3,"present":true,"acked":false}],"hidings":[],"flow_marks":[[1.0,2.0]]}]'
    )
    kept = CODEC.decode(body)
    assert [(a.code, a.occurrence, state_of(a)) for a in kept.alarms] == [("flow.lost", 3, StateName.UNACKED)]
    assert kept.calls == AlarmMemory().calls
