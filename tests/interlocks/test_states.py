"""Every state of latch, timer and count that each guard's memory comes to, against the list that was last looked through.

`python -m tests.interlocks.test_states` writes the list anew; read the difference before it is committed: a state that is gone
is a latch or a timer that is gone, one that is new has to be meant.
"""

from pathlib import Path

import pytest

from dosectl.core.interlocks.registry import KINDS
from tests.interlocks.states import Reached, all_reached, told

LIST = Path(__file__).with_name("states.txt")
LATCHING = {  # what only a person, a test or a refill ends: the design's table, and a stop that somebody set
    "flow.honesty", "flow.gas", "stop.service", "owner.foreign", "lockout.both", "feeder.runs", "feeder.still", "change.unfed",
    "low.ph", "acid.response", "response.wrong_way", "chlorine.response", "cell.power", "mass.learned",
}  # fmt: skip
NEVER = {"change.unfed.orp"}  # the design's: ORP clears itself


@pytest.fixture(scope="module")
def found() -> dict[str, Reached]:
    return all_reached(kept=1)


def kind_of(key: str) -> str:
    code = key.partition(":")[0]
    return max((str(kind.code) for kind in KINDS if code == kind.code or code.startswith(f"{kind.code}.")), key=len, default=code)


def test_the_states_reached_are_those_of_the_list(found: dict[str, Reached]) -> None:
    assert told(found) == LIST.read_text(encoding="utf-8")


def test_no_guard_raises_in_any_state_at_any_event(found: dict[str, Reached]) -> None:
    assert {key: guard.raised for key, guard in found.items() if guard.raised} == {}


def test_what_the_design_latches_is_reached_latched_and_nothing_else_is(found: dict[str, Reached]) -> None:
    latched = {key for key, guard in found.items() if any("latched" in state for state in guard.states)}
    assert {kind_of(key) for key in latched} == LATCHING
    for key in found:
        if kind_of(key) in LATCHING and key.partition(":")[0] not in NEVER:
            assert key in latched, key
    assert not NEVER & {key.partition(":")[0] for key in latched}


def test_a_latch_that_is_cleared_is_gone(found: dict[str, Reached]) -> None:
    for key, guard in found.items():
        if any("latched" in state for state in guard.states):
            assert "fresh" in guard.states or any("latched" not in state for state in guard.states), key


if __name__ == "__main__":
    LIST.write_text(told(all_reached(kept=1)), encoding="utf-8")
