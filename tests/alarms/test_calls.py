"""Whom to call of what: one call for a burst with the right first-out, a summary in a flood, critical at once and always."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dosectl.core.alarms import ROWS, Priority, row_of
from dosectl.core.alarms.catalogue import BY_CODE
from dosectl.core.alarms.row import EVERYTHING
from dosectl.core.evidence import Evidence
from dosectl.model.calls import FLOOD, SINCE
from dosectl.model.feeds import FeederId
from dosectl.model.reasons import Code
from tests.alarms.faults import FAULTS, Run, denial, failing, health, healthy, told
from tests.builders import ACID, CELL, later, with_facts, with_flow, with_value


def node_gone(evidence: Evidence, age_s: float) -> Evidence:
    """Everything on the node at once: no report, no flow, no probes, no feedback."""
    for name in ("orp", "ph", "flow", "pump", "water_temp"):
        evidence = failing(evidence, name)
    return with_facts(with_facts(evidence, ACID, node_age_s=age_s), CELL, node_age_s=age_s)


def test_everything_on_a_node_at_once_is_one_call_with_the_node_as_first_out() -> None:
    run = Run()
    run.look()
    held = denial("flow.proven", "flow.unproven")
    for second in range(0, 3 * 3600, 5):
        run.evidence = node_gone(later(run.evidence, 5.0), float(second))
        run.look(held, fallback=True)
    assert [(call.code, call.first_out) for call in run.calls] == [("node.offline", "node.offline")] or (
        [call.code for call in run.calls] == ["node.offline"]
    )
    assert len({change.code for change in run.changes if change.change == "raised"}) >= 2
    assert run.calls[0].priority == Priority.HIGH


def test_what_follows_from_a_standing_first_out_is_silent_and_calls_for_itself_when_it_outlasts_it() -> None:
    run = Run(with_flow(healthy(), pump=True, flow=False))
    run.stay(700.0, 5.0)
    run.evidence = with_value(run.evidence, "sample_flow", False)
    run.stay(2000.0, 10.0)
    assert told(run.calls) == [("flow.lost", "raised", ())]
    assert run.memory.calls.folded[0].code == "probe.sample_flow"
    run.evidence = with_flow(run.evidence, pump=True, flow=True)
    run.stay(300.0 + 600.0, 10.0)
    assert len(run.calls) == 1
    run.stay(60.0, 10.0)
    assert [(call.code, call.first_out) for call in run.calls[1:]] == [("probe.sample_flow", "flow.lost")]


def test_a_consequence_that_is_seen_first_waits_for_its_cause_to_be_timed() -> None:
    run = Run(with_facts(failing(healthy(), "orp"), ACID, node_age_s=61.0))
    run.stay(290.0, 5.0)
    assert ("probe.failure", "raised") in [(c.code, c.change) for c in run.changes]
    assert run.calls == []
    run.stay(30.0, 5.0)
    assert told(run.calls) == [("node.offline", "raised", ("probe.failure",))]
    assert run.calls[0].facts == (("probe.failure", 1),)


def test_a_cause_that_goes_away_again_leaves_the_other_to_call() -> None:
    run = Run(with_facts(failing(healthy(), "orp"), ACID, node_age_s=61.0))
    run.stay(200.0, 5.0)
    run.evidence = with_facts(run.evidence, ACID, node_age_s=1.0)
    run.stay(15.0, 5.0)
    assert told(run.calls) == [("probe.failure", "raised", ())]


def test_a_graver_consequence_of_a_lighter_cause_calls_for_itself() -> None:
    run = Run(with_flow(healthy(), pump=True, flow=False))
    run.stay(700.0, 5.0)
    run.evidence = with_facts(run.evidence, ACID, node_age_s=61.0)
    run.stay(400.0, 5.0)
    assert [call.code for call in run.calls] == ["flow.lost", "node.offline"]


def test_critical_calls_at_once_and_alone_in_whatever_burst() -> None:
    run = Run(with_flow(healthy(), pump=True, flow=False))
    run.look(denial("flow.gas.acid", "flow.gas_hold"))
    assert [(call.code, call.priority) for call in run.calls] == [("feed.gas_hold", Priority.CRITICAL)]


def test_notices_call_nobody() -> None:
    run = Run(health(forward_backlog_s=90_000.0)(healthy()))
    run.stay(3600.0)
    assert [c.code for c in run.changes] == ["record.forward_delayed"]
    assert run.calls == []


def many(count: int) -> dict[FeederId, tuple[object, ...]]:
    """Objections that raise alarms which do not follow from one another."""
    kinds = (
        ("acid.budget", "acid.budget_spent"), ("mass.learned", "mass.learned_cut"), ("high.orp", "high.orp_over"),
        ("chlorine.response", "chlorine.no_response"), ("low.ph", "low.ph_overfed"), ("feeder.still.acid", "feeder.stands_still"),
        ("container.level", "container.empty"), ("salt.level", "salt.outside"),
    )  # fmt: skip
    return {ACID: tuple(verdict for guard, code in kinds[:count] for verdict in denial(guard, code)[ACID])}


def test_a_flood_is_a_summary_each_quarter_of_an_hour_and_critical_still_calls_alone() -> None:
    run = Run()
    run.stay(30.0, 5.0, many(8))  # type: ignore[arg-type]
    single = [call for call in run.calls if call.change == "raised"]
    assert len(single) == 4
    assert [call.change for call in run.calls[4:]] == ["flood_summary"]
    summary = run.calls[4]
    assert summary.code == FLOOD
    assert set(summary.folded) | {call.code for call in single} <= {row.code for row in ROWS}
    run.stay(3600.0, 30.0, many(8))  # type: ignore[arg-type]
    again = [call for call in run.calls[5:] if call.change == "flood_summary"]
    assert len(again) <= 4
    everyone = {code for call in run.calls for code in (call.code, *call.folded)} - {FLOOD}
    due = {c.code for c in run.changes if c.change == "raised" and c.priority >= Priority.LOW}
    assert due == everyone
    before = len(run.calls)
    run.look({ACID: (*many(8)[ACID], *denial("flow.gas.acid", "flow.gas_hold")[ACID])})  # type: ignore[arg-type,dict-item]
    assert [call.code for call in run.calls[before:]] == ["feed.gas_hold"]


@pytest.mark.parametrize("period_s", [1.0, 5.0, 30.0, 120.0, 600.0, 1800.0, 3600.0])
def test_what_comes_and_goes_calls_at_most_twice_a_day_and_says_so_once(period_s: float) -> None:
    run = Run()
    on, restless = False, 0
    for _ in range(min(3000, round(86_000.0 / period_s))):
        on = not on
        run.evidence = later(run.evidence, period_s)
        changes = run.look(denial("arbiter", "arbiter.guard_failed") if on else {})
        restless += sum(change.change == "restless" for change in changes)
    mine = [call for call in run.calls if call.code == "run.guard_failed"]
    assert len(mine) <= 2
    assert run.alarm("run.guard_failed").present
    if run.alarm("run.guard_failed").restless:
        assert restless == 1


def test_what_is_not_grave_and_came_and_went_and_then_stays_is_called_again_the_next_day() -> None:
    run = Run()
    broken = denial("feeder.still.acid", "feeder.stands_still")
    for _ in range(4):
        run.stay(600.0, 60.0, broken)
        run.stay(1200.0, 60.0)
    run.stay(12 * 3600.0, 300.0, broken)
    assert len([call for call in run.calls if call.code == "feed.does_not_run"]) == 2
    run.stay(12 * 3600.0, 300.0, broken)
    assert [call.change for call in run.calls if call.code == "feed.does_not_run"] == ["raised", "raised", "raised"]
    assert run.calls[-1].occurrence == run.alarm("feed.does_not_run").occurrence


def test_a_call_is_not_made_again_by_a_restart() -> None:
    run = Run(health(journal_ok=False)(healthy()))
    run.stay(20.0, 5.0)
    assert [call.code for call in run.calls] == ["record.failing"]
    again = Run(run.evidence, run.memory)
    again.stay(60.0, 5.0)
    assert again.calls == []


def test_an_answered_alarm_that_still_stands_is_called_again_under_another_key() -> None:
    run = Run(health(journal_ok=False)(healthy()))
    run.stay(20.0, 5.0)
    run.answer("record.failing")
    run.stay(12.1 * 3600.0, 60.0)
    assert [call.change for call in run.calls] == ["raised", "again"]
    assert len({call.key for call in run.calls}) == 2


def test_consequences_stand_in_the_table_and_never_in_a_ring() -> None:
    for row in ROWS:
        for code in row.follows if row.follows != EVERYTHING else ():
            assert BY_CODE[code].stage <= row.stage
            assert row.code not in BY_CODE[code].follows
            assert row.priority is not Priority.CRITICAL


@given(st.lists(st.tuples(st.sampled_from(sorted(FAULTS)), st.sampled_from([1.0, 10.0, 400.0, 4000.0])), min_size=1, max_size=8))
def test_every_alarm_of_weight_is_called_folded_or_summed_and_every_key_is_its_own(faults: list[tuple[str, float]]) -> None:
    run = Run()
    for code, stay_s in faults:
        change, objections, view = FAULTS[code]
        at_s = run.evidence.clock_s
        run.evidence = later(change(healthy()), at_s - healthy().clock_s + 1.0)
        run.look(objections, **view)
        run.stay(stay_s, max(1.0, stay_s / 10.0), objections, **view)
    run.stay(20.0, 5.0, objections, **view)
    assert len({call.key for call in run.calls}) == len(run.calls)
    heard = {(call.code, call.occurrence) for call in run.calls}
    heard |= {(Code(name), int(value)) for call in run.calls for name, value in call.facts if name != SINCE}
    memory = run.memory.calls
    heard |= {(item.code, item.occurrence) for item in (*memory.folded, *memory.waiting, *memory.summed)}
    for alarm in run.memory.alarms:
        row = row_of(alarm.code)
        if not alarm.present or row.priority_at(alarm.level) is Priority.NOTICE:
            continue
        assert (alarm.code, alarm.occurrence) in heard
    for change in run.changes:
        if change.priority is Priority.CRITICAL and change.change == "raised":
            assert (change.code, change.occurrence) in {(call.code, call.occurrence) for call in run.calls}


def test_the_memory_is_the_same_object_in_a_quiet_step() -> None:
    run = Run()
    run.look()
    before = run.memory
    run.evidence = later(run.evidence, 1.0)
    run.look()
    assert run.memory.calls is before.calls
    assert replace(before, calls=run.memory.calls) == run.memory


def test_a_grave_alarm_that_came_and_went_and_then_stays_is_called_after_two_hours_not_after_a_day() -> None:
    run = Run()
    broken = denial("arbiter", "arbiter.guard_failed")
    for _ in range(2):
        run.stay(3600.0, 60.0, broken)
        run.stay(3600.0, 60.0)
    run.stay(1.9 * 3600.0, 60.0, broken)
    assert len(run.calls) == 2
    run.stay(0.2 * 3600.0, 60.0, broken)
    assert [call.change for call in run.calls] == ["raised", "raised", "raised"]


def test_what_comes_and_goes_ever_faster_and_then_stays_is_called_after_two_steady_hours() -> None:
    run = Run()
    broken = denial("arbiter", "arbiter.guard_failed")
    for _ in range(4):
        run.stay(600.0, 60.0, broken)
        run.stay(1200.0, 60.0)
    assert run.alarm("run.guard_failed").restless
    run.stay(1.9 * 3600.0, 60.0, broken)
    assert len(run.calls) == 2
    run.stay(0.2 * 3600.0, 60.0, broken)
    assert len(run.calls) == 3
