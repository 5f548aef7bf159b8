"""A latch whose cause stands can't be cleared by a person, whatever the guards remember of it after a restart."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dosectl.core.interlocks.guard import FRESH, SHOW_MOVE, SHOW_NO_FLOW, SHOW_PH_TEST, memory_key
from dosectl.core.interlocks.latches import withheld
from dosectl.core.interlocks.registry import build
from dosectl.core.interlocks.swing import UNMOVED
from dosectl.core.requests.kinds.clear_latch import TO_SHOW
from dosectl.model.reasons import Code, Reason
from dosectl.model.water_tests import Quantity
from tests.builders import CLOCK_S, a_site, a_standing, a_test, an_evidence, later, run, with_flow, with_value
from tests.requests.asking import VIEW, ask

GUARDS = build(a_site())
HONESTY = next(guard for guard in GUARDS if guard.code == "flow.honesty")
ACID = next(guard for guard in GUARDS if guard.code == "acid.response")
CHLORINE = next(guard for guard in GUARDS if guard.code == "chlorine.response")
WHY = Reason(Code("x"), (), an_evidence().now)


def missing(guard, memory, tests=()):
    return withheld(GUARDS, {memory_key(guard): memory}, tests).get(memory_key(guard))


@given(st.lists(st.tuples(st.booleans(), st.booleans(), st.booleans()), max_size=12))
def test_a_switch_that_has_not_shown_no_flow_with_the_pump_off_since_it_latched_is_not_cleared(course):
    _, memory, evidence = run(HONESTY, with_flow(an_evidence(), pump=False, flow=True), FRESH, 70.0)
    assert memory.latched
    honest = False
    for pump, flow, restart in course:
        evidence = with_flow(later(evidence, 90.0), pump=pump, flow=flow)
        memory = memory.restarted() if restart else memory
        _, memory, evidence = run(HONESTY, evidence, memory, 70.0)
        if not pump:
            honest = not flow
        assert missing(HONESTY, memory) == (None if honest else SHOW_NO_FLOW)


def test_a_latched_switch_that_falls_silent_with_the_pump_off_has_not_shown_no_flow():
    _, memory, evidence = run(HONESTY, with_flow(an_evidence(), pump=False, flow=True), FRESH, 70.0)
    _, memory, evidence = run(HONESTY, with_flow(later(evidence, 1.0), pump=False, flow=None), memory, 70.0)
    assert missing(HONESTY, memory) == SHOW_NO_FLOW
    _, memory = HONESTY.judge(with_flow(later(evidence, 1.0), pump=False, flow=False), memory)
    assert missing(HONESTY, memory) is None


@given(st.floats(-86400.0, 86400.0), st.sampled_from(Quantity), st.booleans())
def test_acid_without_response_is_cleared_only_after_a_test_of_the_ph_since_it_latched(ago_s, quantity, withdrawn):
    memory = replace(FRESH, latched=WHY, count=int(CLOCK_S))
    test = replace(a_test(quantity, 7.4, CLOCK_S + ago_s), withdrawn=withdrawn)
    shown = quantity is Quantity.PH and not withdrawn and test.taken_s > int(CLOCK_S)
    assert missing(ACID, memory, (test,)) == (None if shown else SHOW_PH_TEST)
    assert missing(ACID, memory) == SHOW_PH_TEST


def test_an_electrode_without_an_answer_is_never_cleared_by_a_person_and_a_calm_guard_withholds_nothing():
    assert missing(CHLORINE, replace(FRESH, latched=WHY), (a_test(Quantity.FREE_CHLORINE, 1.0, CLOCK_S),)) == SHOW_MOVE
    assert withheld(GUARDS, {memory_key(guard): FRESH for guard in GUARDS}, ()) == {}


@pytest.mark.parametrize(("runs_min", "heard"), [(30, True), (29, True), (28, False)])
def test_a_mute_electrode_that_moves_again_is_heard_by_a_pump_that_runs_half_an_hour_at_a_time(runs_min, heard):
    """Five minutes settle, two dozen values are enough: it needed half an hour on end, and the trip stood for ever."""
    memory = replace(FRESH, latched=WHY, marks=(*UNMOVED, CLOCK_S, 0.0, CLOCK_S))
    for at_s in range(0, 86400, 60):
        moving = with_value(later(an_evidence(), float(at_s)), "orp", 700.0 + 20.0 * ((at_s // 14400) % 2))
        flows = at_s % 3600 < runs_min * 60
        flow = replace(moving.flow, since_s=CLOCK_S + at_s - at_s % 3600 if flows else None)
        _, memory = CHLORINE.judge(replace(moving, flow=flow), memory)
    assert (memory.latched is None) is heard


@pytest.mark.parametrize(("part", "days", "ends"), [("orp", 0.1, True), ("orp", -0.1, False), ("ph", 0.1, False)])
def test_a_new_electrode_entered_since_the_latch_ends_it_and_has_to_be_found_mute_anew(part, days, ends):
    memory = replace(FRESH, latched=WHY, marks=(*UNMOVED, CLOCK_S, 0.0, CLOCK_S))
    standing = a_standing(a_site(), replaced=((part, CLOCK_S + days * 86400.0, 0.0),))
    _, memory = CHLORINE.judge(replace(later(an_evidence(), 0.2 * 86400.0), standing=standing), memory)
    assert (memory.latched is None) is ends


@pytest.mark.parametrize(
    ("needed", "code"),
    [(SHOW_NO_FLOW, "no_stop_seen"), (SHOW_PH_TEST, "not_tested"), (SHOW_MOVE, "not_moved")],
)
def test_a_withheld_clear_says_what_must_be_shown_first_and_changes_nothing(needed, code):
    assert set(TO_SHOW) == {SHOW_NO_FLOW, SHOW_PH_TEST, SHOW_MOVE}
    view = replace(VIEW, latches=(("flow.honesty:acid", Code("flow.honesty"), WHY),), withheld={"flow.honesty:acid": needed})
    judgement = ask("clear_latch", view, latch="flow.honesty", reason="x")
    assert (judgement.reply.done, judgement.reply.code, judgement.change) == (False, f"clear_latch.{code}", None)
    assert ask("clear_latch", replace(view, withheld={}), latch="flow.honesty", reason="x").reply.done
