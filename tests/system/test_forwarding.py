"""Telemetry of a whole daemon at a real time-series server that goes away and comes back."""

from pathlib import Path

import pytest

from tests.services import eventually
from tests.services_tsdb import TimeSeriesServer
from tests.system.record import rows
from tests.system.scene import SOON, scene_at

pytestmark = pytest.mark.system


def test_every_point_is_at_the_server_once_though_it_was_away_while_the_daemon_fed(tmp_path: Path) -> None:
    server = TimeSeriesServer(tmp_path / "server")
    server.start()
    forward = f'\n[forward]\nurl = "{server.url}"\nbucket = "pool"\n'
    try:
        with scene_at(tmp_path, more=SOON + forward) as scene:
            journal = scene.installation.journal
            pool = scene.pool
            scene.begin()
            pool.run(300.0)
            eventually(lambda: rows(journal, "SELECT sent_id > 0 FROM forward_cursor") == [(1,)], 60, "some of it was sent")
            server.stop()
            scene.feeding()  # each step is answered and a feed begins with nobody to take the telemetry
            pool.run(600.0)
            unsent = "SELECT count(*) FROM telemetry WHERE id > (SELECT sent_id FROM forward_cursor)"
            assert rows(journal, unsent)[0][0] > 15
            server.start()
            pool.run(120.0)
            eventually(lambda: rows(journal, unsent) == [(0,)], 90, "the rest was sent")
            assert rows(journal, "SELECT count(*) FROM forward_rejects") == [(0,)]
            recorded = rows(journal, "SELECT at_us, json_extract(fields, '$.ph') FROM telemetry WHERE measurement = 'water'")
            ours = rows(journal, "SELECT at_us FROM telemetry WHERE measurement = 'feeder' AND tags LIKE '%cell%' ORDER BY at_us")
    finally:
        server.stop()
    server.start()
    try:
        expected = sorted((at_us // 1000, value) for at_us, value in recorded if value is not None)
        assert len(expected) > 10
        assert server.samples("water_ph") == expected
        assert [at for at, _ in server.samples('feeder_fed_total_mg_l{feeder="cell"}')] == [at_us // 1000 for (at_us,) in ours]
    finally:
        server.stop()
