"""Forwarding over every answer a server can give: each point there once, nothing lost, dosing never waiting."""

import logging
import random
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from itertools import pairwise
from pathlib import Path

import pytest

from dosectl.forward.lines import LineEncoder
from dosectl.forward.sender import IDLE_S, LONGEST_WAIT_S, REFUSED, REFUSED_WAIT_S, Forwarder, Sending
from dosectl.forward.writer import LineWriter, retry_after_s
from dosectl.model.telemetry import TelemetryPoint
from dosectl.settings.broker import ForwardSettings
from dosectl.store.entry import JournalEntry
from dosectl.store.faults import JournalError
from dosectl.store.journal import Journal
from dosectl.store.outbox import TelemetryOutbox
from tests.forward.fake_server import TOKEN, StrictServer, strict_server
from tests.services import eventually

START = datetime(2026, 6, 1, 6, 0, tzinfo=UTC)


def points(count: int, first: int = 0) -> tuple[TelemetryPoint, ...]:
    return tuple(
        TelemetryPoint(
            "water", (("pool", "p"),), (("ph", 7.0 + n / 1000), ("n", n), ("orp_mv", None)), START + timedelta(seconds=n)
        )
        for n in range(first, first + count)
    )


class Pool:
    """A journal with telemetry, and one sender driven by hand."""

    def __init__(self, path: Path, fake: StrictServer, token: str = TOKEN, timeout_s: float = 5.0) -> None:
        self.path = path
        self.journal = Journal.open(path)
        self.settings = ForwardSettings(fake.url, "home", "pool", token)
        self.writer = LineWriter(self.settings, timeout_s)
        self.outbox = TelemetryOutbox(path)
        self.sending = Sending(lambda: START)
        self._step = 0

    def record(self, telemetry: tuple[TelemetryPoint, ...]) -> None:
        self._step += 1
        self.journal.commit(JournalEntry(self._step, START, float(self._step), telemetry=telemetry), durable_now=True)

    def batch(self) -> float:
        return self.sending.batch(self.outbox, self.writer, LineEncoder(self.outbox.kinds()), random.Random(1))

    def rejects(self) -> list[str]:
        return [
            row[0] for row in self.outbox._connection.execute("SELECT line FROM forward_rejects ORDER BY telemetry_id").fetchall()
        ]

    def close(self) -> None:
        self.outbox.close()
        self.writer.close()
        self.journal.close()


@pytest.fixture
def fake() -> Iterator[StrictServer]:
    with strict_server() as server:
        yield server
        assert server.complaints == []


@pytest.fixture
def pool(tmp_path: Path, fake: StrictServer) -> Iterator[Pool]:
    made = Pool(tmp_path / "pool.journal", fake)
    yield made
    made.close()


def everything_is_there(fake: StrictServer, count: int, without: frozenset[int] = frozenset()) -> bool:
    numbers = {int(float(value)) for (_, _, name, _), value in fake.stored.copy().items() if name == "n"}
    return numbers == set(range(count)) - without


def test_points_arrive_in_one_request_and_the_cursor_moves_after_it(pool: Pool, fake: StrictServer) -> None:
    pool.record(points(1440))
    assert pool.batch() == IDLE_S
    assert everything_is_there(fake, 1440)
    assert fake.requests == [(204, 1440)]
    assert pool.batch() == IDLE_S
    assert len(fake.requests) == 1
    assert pool.outbox.oldest_utc() is None


@pytest.mark.parametrize("status", [408, 429, 500, 502, 503, 504])
def test_a_busy_server_keeps_the_cursor_and_each_wait_is_longer_up_to_five_minutes(
    pool: Pool, fake: StrictServer, status: int
) -> None:
    pool.record(points(10))
    fake.always = status
    waits = [pool.batch() for _ in range(12)]
    assert 1.0 <= waits[0] <= 1.2
    assert all(later > sooner * 1.5 for sooner, later in pairwise(waits[:9]))
    assert all(LONGEST_WAIT_S <= wait <= LONGEST_WAIT_S * 1.2 for wait in waits[9:])
    assert not pool.sending.refused
    assert pool.outbox.oldest_utc() == START
    fake.always = None
    assert pool.batch() == IDLE_S
    assert everything_is_there(fake, 10)
    fake.always = status
    pool.record(points(1, 10))
    assert pool.batch() <= 1.2  # the next trouble begins anew


def test_a_server_that_says_when_to_come_back_is_not_asked_sooner(pool: Pool, fake: StrictServer) -> None:
    pool.record(points(10))
    fake.answers = [(503, {"Retry-After": "120"}), (429, {"Retry-After": "Mon, 01 Jun 2026 06:10:00 GMT"})]
    assert 120.0 <= pool.batch() <= 144.0
    assert 600.0 <= pool.batch() <= 720.0


@pytest.mark.parametrize(
    ("header", "seconds"),
    [
        (None, None),
        ("30", 30.0),
        ("-5", 0.0),
        ("1e9", 3600.0),
        ("nan", None),
        ("soon", None),
        ("Mon, 01 Jun 2026 06:00:07 GMT", 7.0),
    ],
)
def test_what_a_retry_after_header_asks_for(header: str | None, seconds: float | None) -> None:
    assert retry_after_s(header, START) == seconds


@pytest.mark.parametrize("status", [302, 401, 403, 404, 405])
def test_a_refusal_is_a_fault_for_a_person_and_is_tried_each_five_minutes(pool: Pool, fake: StrictServer, status: int) -> None:
    pool.record(points(10))
    fake.always = status
    assert REFUSED_WAIT_S <= pool.batch() <= REFUSED_WAIT_S * 1.2
    assert pool.sending.refused
    assert str(status) in pool.sending.trouble
    fake.always = None
    pool.batch()
    assert not pool.sending.refused
    assert everything_is_there(fake, 10)


@pytest.mark.parametrize("bad", [0, 1, 500, 998, 999])
def test_one_bad_row_is_found_by_halving_and_set_aside_and_all_others_arrive(pool: Pool, fake: StrictServer, bad: int) -> None:
    pool.record(points(1000))
    fake.poison = f"n={bad},"
    assert pool.batch() == IDLE_S
    assert everything_is_there(fake, 1000, frozenset({bad}))
    assert len(pool.rejects()) == 1
    assert fake.poison in pool.rejects()[0]
    assert len(fake.requests) < 30
    assert pool.outbox.oldest_utc() is None


def test_more_bad_rows_in_a_row_than_are_tolerated_do_not_hold_up_the_good_ones(pool: Pool, fake: StrictServer) -> None:
    bad = tuple(TelemetryPoint("bad", (), (("n", n),), START + timedelta(seconds=n)) for n in range(50))
    pool.record((*points(10), *bad, *points(10, 10)))
    fake.poison = "bad "
    for _ in range(3):
        pool.batch()
    assert everything_is_there(fake, 20)
    assert len(pool.rejects()) == 50


def test_a_server_that_calls_every_row_bad_is_a_refusal_and_nothing_more_is_lost(pool: Pool, fake: StrictServer) -> None:
    pool.record(points(300))
    fake.always = 400
    assert pool.batch() >= REFUSED_WAIT_S
    assert pool.batch() >= REFUSED_WAIT_S
    assert pool.sending.refused
    assert len(pool.rejects()) == 20
    fake.always = None
    assert pool.batch() == IDLE_S
    assert everything_is_there(fake, 300, frozenset(range(20)))


def test_too_large_is_halved_until_it_fits(pool: Pool, fake: StrictServer) -> None:
    pool.record(points(1000))
    fake.lines_max = 100
    assert pool.batch() == IDLE_S
    assert everything_is_there(fake, 1000)
    assert pool.rejects() == []


def test_an_answer_that_was_lost_leads_to_the_same_points_again_never_to_others(
    pool: Pool, fake: StrictServer, tmp_path: Path
) -> None:
    pool.record(points(10))
    impatient = LineWriter(pool.settings, timeout_s=0.1)
    fake.delay_s = 0.5
    assert pool.sending.batch(pool.outbox, impatient, LineEncoder({}), random.Random(1)) >= 1.0
    impatient.close()
    fake.delay_s = 0.0
    eventually(lambda: len(fake.requests) == 1)
    assert pool.batch() == IDLE_S
    assert everything_is_there(fake, 10)
    assert len(fake.stored) == 20
    assert set(fake.times.values()) == {2}


def test_an_absent_server_is_waited_for(tmp_path: Path) -> None:
    with strict_server() as fake:
        pool = Pool(tmp_path / "pool.journal", fake)
    pool.record(points(3))
    assert 1.0 <= pool.batch() <= 1.2
    assert pool.sending.trouble.endswith("can't be reached (NewConnectionError)")
    assert not pool.sending.refused
    pool.close()


def test_a_point_without_any_value_moves_the_cursor_without_a_request(pool: Pool, fake: StrictServer) -> None:
    pool.record((TelemetryPoint("water", (), (("ph", None),), START),))
    assert pool.batch() == IDLE_S
    assert fake.requests == []
    assert pool.outbox.oldest_utc() is None


def test_a_type_that_changes_never_reaches_the_server_not_even_after_a_restart(pool: Pool, fake: StrictServer) -> None:
    pool.record((TelemetryPoint("water", (), (("a", 1),), START),))
    pool.batch()
    pool.record((TelemetryPoint("water", (), (("a", "text"), ("b", 2)), START + timedelta(seconds=1)),))
    pool.batch()
    pool.record((TelemetryPoint("water", (), (("a", 2.5),), START + timedelta(seconds=2)),))
    pool.batch()
    assert [value for (_, _, name, _), value in fake.stored.items() if name == "a"] == ["1", "2.5"]
    assert {status for status, _ in fake.requests} == {204}


def test_the_token_is_in_no_log_no_text_and_no_repr(pool: Pool, fake: StrictServer, caplog: pytest.LogCaptureFixture) -> None:
    caplog.set_level(logging.DEBUG)
    pool.record(points(3))
    fake.answers = [(401, {}), (500, {}), (400, {}), (400, {}), (400, {})]
    for _ in range(5):
        pool.batch()
    shown = (
        caplog.text + repr(pool.settings) + repr(pool.writer) + repr(pool.sending) + pool.sending.trouble + str(pool.rejects())
    )
    assert "answered 400" in caplog.text
    assert TOKEN not in shown


def test_the_thread_forwards_says_its_backlog_and_its_fault_and_ends_when_told(tmp_path: Path, fake: StrictServer) -> None:
    pool = Pool(tmp_path / "pool.journal", fake)
    pool.record(points(12_000))
    fake.always = 403
    now = START + timedelta(hours=3)
    forwarder = Forwarder(pool.settings, lambda: TelemetryOutbox(pool.path), (JournalError,), now=lambda: now)
    assert forwarder.backlog_s() == 0.0
    forwarder.start()
    eventually(lambda: forwarder.fault == REFUSED)
    assert forwarder.backlog_s() == 3 * 3600.0
    assert forwarder.alive
    forwarder.stop()
    assert not forwarder.alive
    fake.always = None
    again = Forwarder(pool.settings, lambda: TelemetryOutbox(pool.path), (JournalError,), now=lambda: now)
    again.start()
    eventually(lambda: everything_is_there(fake, 12_000))
    eventually(lambda: again.backlog_s() == 0.0)
    assert again.fault is None
    assert set(fake.times.values()) == {1}
    again.stop()
    pool.close()


def test_a_record_that_can_not_be_opened_now_is_tried_again_later(tmp_path: Path, fake: StrictServer) -> None:
    tried = 0

    def broken() -> TelemetryOutbox:
        nonlocal tried
        tried += 1
        raise JournalError("no room")

    forwarder = Forwarder(ForwardSettings(fake.url, "home", "pool", TOKEN), broken, (JournalError,))
    forwarder.start()
    eventually(lambda: tried == 1)
    assert forwarder.alive
    forwarder.stop()
