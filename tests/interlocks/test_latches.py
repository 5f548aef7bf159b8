"""A latch whose cause stands can't be cleared by a person, whatever the guards remember of it after a restart."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dosectl.core.interlocks.guard import FRESH, SHOW_MOVE, SHOW_NO_FLOW, SHOW_PH_TEST, memory_key
from dosectl.core.interlocks.latches import withheld
from dosectl.core.interlocks.registry import build
from dosectl.core.requests.kinds.clear_latch import TO_SHOW
from dosectl.model.reasons import Code, Reason
from dosectl.model.water_tests import Quantity
from tests.builders import CLOCK_S, a_site, a_test, an_evidence, later, run, with_flow
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
