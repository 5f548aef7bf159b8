"""The ledger never under-counts: against a plain list of (second, gram) that a feeder may have fed, over any window."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dosectl.model.feeds import FeederId, Substance
from dosectl.model.ledger import Debit, FeederLedger, Ledger

CELL = FeederId("cell")


@st.composite
def feeds(draw: st.DrawFn) -> list[tuple[float, float, float, bool]]:
    """(begin, duration, reserved mass, metered) of reservations, one after the other."""
    now = 0.0
    out: list[tuple[float, float, float, bool]] = []
    for _ in range(draw(st.integers(1, 25))):
        now += draw(st.floats(0.0, 5000.0))
        duration = draw(st.floats(1.0, 300.0))
        out.append((now, duration, draw(st.floats(0.01, 10.0)), draw(st.booleans())))
        now += duration
    return out


@given(feeds(), st.floats(60.0, 90_000.0), st.floats(0.0, 400_000.0))
def test_no_window_counts_less_than_was_fed(plan: list[tuple[float, float, float, bool]], window_s: float, at_s: float) -> None:
    book = FeederLedger(CELL)
    fed: list[tuple[float, float]] = []  # (moment, grams), a second at a time
    for number, (begin, duration, mass, metered) in enumerate(plan):
        if begin > at_s:
            break
        book = book.with_open(Debit(number, CELL, begin, begin, mass))
        seconds = int(duration)
        for second in range(seconds):
            fed.append((begin + second, mass / max(1, seconds) * 0.5))
        end = begin + duration
        if end > at_s:
            book = book.drawn(mass * 0.5, at_s)
            break
        book = book.drawn(mass * 0.5, end).closed(end, mass * 0.5 if metered else None)
    now = max(at_s, book.last_fed_s() or 0.0)
    truth = sum(mass for moment, mass in fed if now - window_s <= moment <= now)
    assert book.window_g(now, window_s) >= truth - 1e-9


def test_a_metered_off_books_the_unused_part_back_once() -> None:
    book = FeederLedger(CELL).with_open(Debit(1, CELL, 0.0, 0.0, 5.0)).drawn(2.0, 10.0)
    assert book.window_g(10.0, 3600.0) == 5.0  # open: in full
    book = book.closed(12.0, 2.0)
    assert book.window_g(12.0, 3600.0) == 2.0
    assert book.closed(13.0, 0.0) is book  # nothing open: nothing to book back twice


def test_an_unproven_off_books_everything() -> None:
    assert FeederLedger(CELL).with_open(Debit(1, CELL, 0.0, 0.0, 5.0)).closed(9.0, None).total_g == 5.0


@pytest.mark.parametrize(("proved", "booked"), [(-3.0, 0.0), (99.0, 5.0)])
def test_what_is_booked_back_stays_inside_the_reservation(proved: float, booked: float) -> None:
    assert FeederLedger(CELL).with_open(Debit(1, CELL, 0.0, 0.0, 5.0)).closed(9.0, proved).total_g == booked


def test_two_reservations_of_one_feeder_never_stand_open() -> None:
    book = FeederLedger(CELL).with_open(Debit(1, CELL, 0.0, 0.0, 5.0))
    with pytest.raises(ValueError, match="still open"):
        book.with_open(Debit(2, CELL, 1.0, 1.0, 5.0))


def test_forgetting_old_entries_changes_no_window_that_is_still_asked_for() -> None:
    book = FeederLedger(CELL)
    for day in range(20):
        at = day * 86400.0
        book = book.with_open(Debit(day, CELL, at, at, 3.0)).closed(at + 60.0, None)
    now = 19 * 86400.0 + 60.0
    short = book.forgetting(now - 5 * 86400.0)
    assert len(short.times_s) < len(book.times_s)
    for window in (3600.0, 86400.0, 3 * 86400.0):
        assert short.window_g(now, window) == book.window_g(now, window)
    assert short.total_g == book.total_g


def book(feeder: FeederId, substance: Substance | None, fed_g: float) -> FeederLedger:
    return FeederLedger(feeder, substance=substance).with_open(Debit(1, feeder, 0.0, 0.0, fed_g)).closed(1.0, None)


def test_mass_of_a_substance_adds_up_over_its_feeders_and_those_nobody_knows_count_for_each() -> None:
    ledger = Ledger(
        (
            book(CELL, Substance.CHLORINE, 5.0),
            book(FeederId("pump"), Substance.CHLORINE, 2.0),
            book(FeederId("acid"), Substance.ACID, 11.0),
            book(FeederId("of an old record"), None, 0.5),
        )
    )
    assert ledger.window_g(Substance.CHLORINE, 2.0, 60.0) == ledger.total_g(Substance.CHLORINE) == 7.5
    assert ledger.window_g(Substance.ACID, 2.0, 60.0) == ledger.total_g(Substance.ACID) == 11.5
    assert ledger.window_g(Substance.ACID, 62.0, 60.0) == 0.0
    with pytest.raises(KeyError):
        ledger.of(FeederId("nobody"))


def test_a_window_that_reaches_back_beyond_what_is_known_counts_all_ever_fed() -> None:
    book = FeederLedger(CELL)
    for day in range(20):
        at = day * 86400.0
        book = book.with_open(Debit(day, CELL, at, at, 3.0)).closed(at + 60.0, None)
    now = 19 * 86400.0 + 60.0
    short = book.forgetting(now - 5 * 86400.0)
    assert short.window_g(now, 10 * 86400.0) >= book.window_g(now, 10 * 86400.0)
    assert short.window_g(now, 10 * 86400.0) == short.total_g
