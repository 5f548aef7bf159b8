"""Starts of the daemon: what it waits for, what it refuses and what it then says."""

import signal
import sqlite3
from pathlib import Path

import pytest

from dosectl.settings.load import load
from tests.services import certificates, eventually
from tests.system.pool_in_hand import PoolInHand
from tests.system.scene import Scene
from tests.system.stage import PASSWORDS, Daemon, Installation, NotifySocket, guarded_broker, running, write_secret

pytestmark = pytest.mark.system


def test_an_absent_broker_is_waited_for_and_said(tmp_path: Path) -> None:
    broker = guarded_broker(tmp_path / "broker", "dosectl/demo")
    installation = Installation(tmp_path / "pool", broker.port)
    with running(installation.daemon) as daemon:
        eventually(lambda: f"127.0.0.1:{broker.port}" in daemon.said(), 30, "it names the broker that it can't reach")
        assert daemon.running
        broker.start()
        pool = PoolInHand(broker.port).ready()
        try:
            pool.run(9.0)
            assert pool.view["feeders"]
            assert not pool.ons()
        finally:
            pool.close()
            broker.kill()


def test_a_broker_that_refuses_the_account_is_named_and_nothing_ends(scene: Scene) -> None:
    write_secret(scene.installation.folder / "dosectl.secret", "wrong")
    with running(scene.daemon) as daemon:
        eventually(lambda: "refuse" in daemon.said() or "Not authorized" in daemon.said(), 30, "the refusal is said")
        assert daemon.running
        daemon.signal(signal.SIGTERM)
        assert daemon.wait() == 0


def test_over_tls_with_an_account_the_daemon_steps(tmp_path: Path) -> None:
    papers = certificates(tmp_path / "papers")
    broker = guarded_broker(tmp_path / "broker", "dosectl/demo", papers)
    broker.start()
    installation = Installation(tmp_path / "pool", broker.port, host="localhost")
    installation.rewrite(replace={"[journal]": f'ca_file = "{papers.authority}"\n\n[journal]'})
    pool = PoolInHand(broker.port, tls_ca=str(papers.authority)).ready()
    try:
        with running(installation.daemon):
            pool.run(9.0)
            assert pool.view["bus"]["protocol"] == "5"
    finally:
        pool.close()
        broker.kill()


def test_a_broken_configuration_shows_every_finding_and_ends_with_1(tmp_path: Path) -> None:
    installation = Installation(tmp_path, 1)
    text = installation.config.read_text(encoding="utf-8")
    text = text.replace("volume_m3 = 50.0", "volume_m3 = 50000.0").replace("latitude_deg", "lattitude_deg")
    installation.config.write_text(text.replace("rate_ml_min = 20", "rate_ml_min = -1"), encoding="utf-8")
    installation.daemon.start()
    assert installation.daemon.wait() == 1
    said = installation.daemon.said()
    assert all(word in said for word in ("pool.volume_m3", "lattitude_deg", "feeders.acid.rate_ml_min"))
    assert "litres" in said
    assert "Traceback" not in said
    assert not installation.journal.exists()


def test_a_missing_configuration_ends_with_1(tmp_path: Path) -> None:
    daemon = Daemon(tmp_path / "none.toml", tmp_path / "log")
    daemon.start()
    assert daemon.wait() == 1
    assert "none.toml" in daemon.said()
    assert "Traceback" not in daemon.said()


def test_a_damaged_journal_is_refused_with_a_way_out(scene: Scene) -> None:
    scene.begin()
    scene.daemon.kill()
    journal = scene.installation.journal
    with sqlite3.connect(journal) as connection:  # everything into the one file, which is then damaged
        connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    connection.close()
    size = journal.stat().st_size
    with journal.open("r+b") as file:
        for place in range(4096, size - 100, 4096):
            file.seek(place)
            file.write(b"\xff" * 64)
    before = journal.read_bytes()
    scene.daemon.log.unlink()
    scene.daemon.start()
    assert scene.daemon.wait() == 1
    said = scene.daemon.said()
    assert "demo.journal" in said
    assert "damaged" in said
    assert "Traceback" not in said
    assert journal.read_bytes() == before  # what can be saved from it is still there


def test_a_second_daemon_on_the_same_journal_is_told_who_holds_it(scene: Scene) -> None:
    scene.begin()
    second = Daemon(scene.installation.config, scene.installation.folder / "second.log")
    second.start()
    assert second.wait() == 1
    assert f"pid {scene.daemon.pid}" in second.said()
    assert "Traceback" not in second.said()
    scene.pool.run(30.0)
    assert scene.daemon.running


def test_the_service_manager_hears_ready_and_a_life_sign_per_step(scene: Scene, tmp_path: Path) -> None:
    manager = NotifySocket(tmp_path)
    try:
        scene.daemon.start(environment={"NOTIFY_SOCKET": str(manager.path)})
        scene.pool.tick()
        lines = manager.until("WATCHDOG=1", scene.pool.tick)
        assert lines.index("READY=1") < lines.index("WATCHDOG=1")
        scene.daemon.signal(signal.SIGTERM)
        scene.pool.announce()
        manager.until("STOPPING=1", lambda: scene.pool.listen(0.0))
        assert scene.daemon.wait() == 0
    finally:
        manager.close()


def test_the_config_that_the_tests_use_is_a_valid_one_with_its_own_account(tmp_path: Path) -> None:
    loaded = load(Installation(tmp_path, 1883).config)
    assert loaded.broker.username == "dosectl"
    assert loaded.broker.password == PASSWORDS["dosectl"]
