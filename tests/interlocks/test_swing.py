"""What counts as a move of the ORP electrode: what a day of flow brings, not what adds up over weeks."""

import pytest

from dosectl.core.interlocks.guard import FRESH
from dosectl.core.interlocks.swing import followed
from tests.builders import an_evidence, later, with_value

DAY_MIN = 24 * 60
STEP_MV = 2.0


@pytest.mark.parametrize("sign", [1.0, -1.0])
@pytest.mark.parametrize(("mv_a_day", "moved"), [(3.0, True), (1.5, False)])
def test_a_creep_of_more_than_the_step_in_a_day_of_flow_is_a_move_and_a_slower_one_is_none_however_long(sign, mv_a_day, moved):
    """The marks fade with a day of flow, so a creep leaves them behind by what it makes in one."""
    healthy, memory = an_evidence(), FRESH
    for minute in range(6 * DAY_MIN):
        shown = with_value(later(healthy, 60.0 * minute), "orp", 700.0 + sign * mv_a_day * minute / DAY_MIN)
        memory = followed(memory, shown, "orp", STEP_MV)
    rise_s, fall_s = memory.marks[2:4]
    assert (rise_s > 0.0, fall_s > 0.0) == (moved and sign > 0.0, moved and sign < 0.0)
