"""An OFF is proven by feedback that is newer than the OFF: what was said before it proves nothing about what ran since."""

from dataclasses import replace

import pytest

from dosectl.core.controller.facts import FeederTrace, feeder_facts
from dosectl.core.interlocks.dispatch import METERED_GRACE_S, Dispatch, asked_off, asked_on, draw
from dosectl.model.ledger import Debit
from dosectl.model.signals import SignalId
from tests.builders import ACID, CELL, CLOCK_S, a_ledger, a_reading, a_site, an_instant


@pytest.mark.parametrize(("seen_after_off_s", "shown"), [(-2.0, None), (0.0, None), (0.5, False)])
def test_off_is_known_only_from_feedback_of_after_the_off(seen_after_off_s: float, shown: bool | None) -> None:
    site = a_site()
    off_s = CLOCK_S + 1.0
    ended, _ = asked_off(asked_on(Dispatch(CELL), CLOCK_S, 1.0, 10.0), off_s, None)
    readings = {
        SignalId("cell_feedback"): a_reading("cell_feedback", False, at_s=off_s + seen_after_off_s),
        SignalId("acid_feedback"): a_reading("acid_feedback", False, at_s=off_s),
    }
    facts, _ = feeder_facts(
        site, readings, (), {CELL: ended, ACID: Dispatch(ACID)}, {f.id: FeederTrace(f.id) for f in site.feeders},
        0.0, an_instant(off_s + 1.0), off_s + 1.0, 1.0,
    )  # fmt: skip
    assert facts[CELL].running is shown


def test_feedback_that_shows_it_running_is_believed_whatever_its_moment() -> None:
    site = a_site()
    ended, _ = asked_off(asked_on(Dispatch(CELL), CLOCK_S, 1.0, 10.0), CLOCK_S + 1.0, None)
    readings = {SignalId("cell_feedback"): a_reading("cell_feedback", True, at_s=CLOCK_S)}
    facts, _ = feeder_facts(
        site, readings, (), {CELL: ended, ACID: Dispatch(ACID)}, {f.id: FeederTrace(f.id) for f in site.feeders},
        0.0, an_instant(CLOCK_S + 2.0), CLOCK_S + 2.0, 1.0,
    )  # fmt: skip
    assert facts[CELL].running is True


def test_a_metered_reservation_waits_for_its_feedback_and_is_booked_in_full_when_none_comes() -> None:
    site = a_site()
    cell = site.feeder(CELL)
    ended, _ = asked_off(asked_on(Dispatch(CELL), CLOCK_S, 1.0, 10.0), CLOCK_S + 10.0, None)
    book = a_ledger(site)
    book = book.with_feeder(book.of(CELL).with_open(Debit(1, CELL, CLOCK_S, CLOCK_S + 10.0, 1.6, 0.05)))
    at_s = CLOCK_S + 12.0
    waiting, _ = draw(cell, ended, None, at_s - 1.0, at_s, book)
    assert waiting.of(CELL).open is not None
    proven, _ = draw(cell, ended, False, at_s - 1.0, at_s, book)
    assert proven.of(CELL).total_g == pytest.approx(0.05)
    late_s = CLOCK_S + 10.0 + METERED_GRACE_S
    given_up, _ = draw(cell, ended, None, late_s - 1.0, late_s, book)
    assert given_up.of(CELL).total_g == pytest.approx(1.6)
    unmetered, _ = draw(replace(cell, metered=False, feedback=None), ended, None, at_s - 1.0, at_s, book)
    assert unmetered.of(CELL).total_g == pytest.approx(1.6)
