"""Against a real time-series server: away and back, every point there once."""

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from dosectl.forward.sender import Forwarder
from dosectl.model.telemetry import TelemetryPoint
from dosectl.settings.broker import ForwardSettings
from dosectl.store.entry import JournalEntry
from dosectl.store.faults import JournalError
from dosectl.store.journal import Journal
from dosectl.store.outbox import TelemetryOutbox
from tests.services import eventually
from tests.services_tsdb import TimeSeriesServer

START = datetime(2026, 6, 1, 6, 0, tzinfo=UTC)
POINTS = 2000

pytestmark = pytest.mark.system


@pytest.fixture
def server(tmp_path: Path) -> Iterator[TimeSeriesServer]:
    made = TimeSeriesServer(tmp_path / "server")
    made.start()
    yield made
    made.stop()


def expected(count: int) -> list[tuple[int, float]]:
    first_ms = int(START.timestamp() * 1000)
    return [(first_ms + n * 1000, 7.0 + n / 1024) for n in range(count)]


def test_a_server_that_goes_away_and_comes_back_holds_every_point_once(tmp_path: Path, server: TimeSeriesServer) -> None:
    path = tmp_path / "pool.journal"
    journal = Journal.open(path)
    written = 0

    def record(count: int) -> None:
        nonlocal written
        for n in range(written, written + count):
            point = TelemetryPoint(
                "water", (("pool", "p"),), (("ph", 7.0 + n / 1024), ("on", n % 2 == 0)), START + timedelta(seconds=n)
            )
            journal.commit(JournalEntry(n, START, float(n), telemetry=(point,)), durable_now=False)
        written += count
        journal.flush()

    def sent() -> bool:
        with TelemetryOutbox(path) as box:
            return box.oldest_utc() is None

    def forward_until_sent() -> None:
        forwarder = Forwarder(ForwardSettings(server.url, "home", "pool", None), lambda: TelemetryOutbox(path), (JournalError,))
        forwarder.start()
        eventually(sent, what="all telemetry was sent")
        forwarder.stop()

    record(500)
    forward_until_sent()
    server.stop()
    absent = Forwarder(ForwardSettings(server.url, "home", "pool", None), lambda: TelemetryOutbox(path), (JournalError,))
    record(1000)  # dosing and recording go on
    absent.start()
    eventually(lambda: absent.backlog_s() > 0.0)
    assert not sent()
    server.start()
    eventually(sent, limit_s=30.0, what="the same thread has sent all after the server came back")
    absent.stop()
    record(500)
    forward_until_sent()
    # An answer that was lost: the same rows go a second time.
    with TelemetryOutbox(path) as box:
        box._connection.execute("UPDATE forward_cursor SET sent_id = sent_id - 700")
    forward_until_sent()
    journal.close()
    assert server.samples("water_ph") == expected(POINTS)
    assert [value for _, value in server.samples("water_on")] == [1.0, 0.0] * (POINTS // 2)


def test_without_its_cure_the_server_would_hold_a_point_as_often_as_it_was_sent(tmp_path: Path) -> None:
    bare = TimeSeriesServer(tmp_path / "bare")
    bare.child.argv.remove("-dedup.minScrapeInterval=1ms")
    bare.start()
    path = tmp_path / "pool.journal"
    journal = Journal.open(path)
    point = TelemetryPoint("water", (), (("ph", 7.0),), START)
    journal.commit(JournalEntry(1, START, 1.0, telemetry=(point,)), durable_now=True)
    for _ in range(2):
        forwarder = Forwarder(ForwardSettings(bare.url, "home", "pool", None), lambda: TelemetryOutbox(path), (JournalError,))
        forwarder.start()
        with TelemetryOutbox(path) as box:
            eventually(lambda box=box: box.oldest_utc() is None)  # type: ignore[misc]
            forwarder.stop()
            box._connection.execute("UPDATE forward_cursor SET sent_id = 0")
    journal.close()
    assert len(bare.samples("water_ph")) == 2
    bare.stop()
