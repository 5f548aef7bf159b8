"""What a node may feed when commands get lost, or live shorter than they are renewed: the ledger never holds less."""

from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from dosectl.core.interlocks.dispatch import Dispatch, asked_off, asked_on, draw
from dosectl.core.interlocks.guard import Guard
from dosectl.model.feeds import FeedOn, Origin, Wish
from tests.builders import CELL, CLOCK_S, a_ledger, a_site
from tests.interlocks.test_arbiter import WHY, Rig, limits, permits


def at_level(level: float, mass_g: float = 5.0) -> Wish:
    return Wish(CELL, Origin.CONTROL, level, mass_g, WHY)


def a_rig() -> Rig:
    site = a_site()
    cell = replace(site.feeder(CELL), feedback=None, metered=False, percent=True)
    return Rig.of(permits(CELL), feeders=(cell,))


def test_a_command_that_died_before_its_renewal_was_due_is_judged_anew() -> None:
    rig = Rig.of(permits())
    rate = rig.evidence.site.feeder(CELL).rate_g_s
    rig.guards = (permits(), limits(rate * 1.0, CELL))
    first = rig.step(at_level(1.0))[CELL]
    assert isinstance(first, FeedOn)
    rig.guards = (permits(), limits(1.0, CELL))  # the hour has moved on and leaves more
    second = rig.step(at_level(1.0), dt_s=2.0, running={CELL: True})[CELL]
    assert isinstance(second, FeedOn)
    assert second.send


def test_a_lowered_level_that_got_lost_is_booked_at_the_level_that_may_still_run() -> None:
    rig = a_rig()
    rate = rig.evidence.site.feeders[0].rate_g_s
    rig.step(at_level(1.0), running={CELL: None})
    rig.step(at_level(0.2), running={CELL: None})
    rig.step(at_level(0.2), dt_s=4.0, running={CELL: None})
    book = rig.ledger.of(CELL)
    assert book.open is not None
    assert book.closed_g + book.open.used_g >= 5.0 * rate - 1e-9


def test_an_on_soon_after_an_off_that_got_lost_does_not_shorten_what_may_still_run() -> None:
    rig = a_rig()
    rate = rig.evidence.site.feeders[0].rate_g_s
    rig.step(at_level(1.0), running={CELL: None})
    rig.step(running={CELL: None})
    rig.step(at_level(1.0, 1.5 * rate), running={CELL: None})
    for _ in range(8):
        rig.step(running={CELL: None})
    assert rig.ledger.of(CELL).total_g >= 10.0 * rate - 1e-9


moves = st.lists(
    st.tuples(
        st.sampled_from([0.0, 0.2, 0.6, 1.0]),  # level wished
        st.floats(0.5, 40.0),  # seconds of full output wished
        st.floats(0.2, 6.0),  # dt
        st.booleans(),  # the command of this step reaches the node
        st.floats(0.0, 40.0),  # seconds of full output that a limit leaves
    ),
    min_size=1,
    max_size=60,
)


@settings(max_examples=300, deadline=None)
@given(moves)
def test_whatever_gets_lost_the_ledger_holds_what_the_node_fed_and_still_may(plan: list[Any]) -> None:
    rig = a_rig()
    site = rig.evidence.site
    rate = site.feeders[0].rate_g_s
    level, left_s, fed_g = 0.0, 0.0, 0.0
    for wished, wish_s, dt_s, arrives, room_s in plan:
        fed_g += level * rate * min(left_s, dt_s)
        left_s = max(0.0, left_s - dt_s)
        guards: tuple[Guard, ...] = (permits(CELL), limits(room_s * rate, CELL))
        rig.guards = guards
        wishes = [at_level(wished, wish_s * rate)] if wished else []
        command = rig.step(*wishes, dt_s=dt_s, running={CELL: None})[CELL]
        if isinstance(command, FeedOn):
            if command.send and arrives:
                level, left_s = command.level, command.expires_s
        elif command.repeat and arrives:
            left_s = 0.0
        # A crash now books the open reservation in full: it must hold what the node feeds before its command dies.
        assert rig.ledger.of(CELL).total_g >= fed_g + level * rate * left_s - 1e-6


def test_what_runs_past_the_life_of_every_command_is_booked_at_full_output() -> None:
    """The last level says nothing about a device that runs although nobody asks it to."""
    cell = a_site().feeder(CELL)
    asked = asked_on(Dispatch(CELL), CLOCK_S, 0.2, 10.0)
    ended, _ = asked_off(asked, CLOCK_S + 5.0, None)
    book, fed_g = draw(cell, ended, True, CLOCK_S + 20.0, CLOCK_S + 50.0, a_ledger(a_site()))
    assert fed_g == pytest.approx(30.0 * cell.rate_g_s)
    assert book.of(CELL).total_g == pytest.approx(30.0 * cell.rate_g_s)
