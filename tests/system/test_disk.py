"""A disk with no room and a folder that can't be written: the record comes before the feed."""

import signal
import socket
import subprocess
from pathlib import Path

import pytest

from tests.services import eventually
from tests.system.record import alarms, rows
from tests.system.scene import Scene

pytestmark = pytest.mark.system


def set_file_limit(pid: int, bytes_max: str) -> None:
    """The most that one file of that process may grow to: what a full disk is to a journal."""
    subprocess.run(["prlimit", f"--pid={pid}", f"--fsize={bytes_max}:"], check=True)


def test_a_full_disk_stops_the_feed_raises_an_alarm_and_mends_by_itself(scene: Scene) -> None:
    scene.begin().feeding()
    pool = scene.pool
    place = len(pool.wire)
    set_file_limit(scene.daemon.pid, "4096")
    pool.until(lambda: pool.offs("cell", place), 0.5, what="the feed ends when the record can't be written")
    assert not pool.running("cell")
    assert scene.daemon.running
    place = len(pool.wire)
    pool.run(120.0)
    assert not pool.ons(since=place)
    eventually(lambda: pool.tick() and not pool.view["journal"]["ok"], what="the view says it")
    assert "record" in " ".join(item["code"] for item in pool.view["alarms"])
    assert "the record can't be written" in scene.daemon.said()
    set_file_limit(scene.daemon.pid, "unlimited")
    pool.run(30.0)
    scene.feeding()
    assert "the record can be written again" in scene.daemon.said()
    assert any(code.startswith("record") for code in alarms(scene.installation.journal))
    assert rows(scene.installation.journal, "PRAGMA quick_check") == [("ok",)]


def test_a_full_disk_is_no_hung_core_and_ends_in_order(scene: Scene, tmp_path: Path) -> None:
    """The service manager must not kill a daemon that works as it should, and an ordered end is one without a traceback."""
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as heard:
        heard.bind(str(tmp_path / "notify"))
        heard.settimeout(5.0)
        scene.begin(environment={"NOTIFY_SOCKET": str(tmp_path / "notify")}).feeding()
        set_file_limit(scene.daemon.pid, "4096")
        scene.pool.until(lambda: not scene.pool.view["journal"]["ok"], 0.5, what="the view says it")
        heard.setblocking(False)
        words = emptied(heard)
        scene.pool.run(60.0)
        words = emptied(heard)
        assert "WATCHDOG=1" in words
    assert scene.ended() == 0
    said = scene.daemon.said()
    assert "Traceback" not in said
    assert "the stop could not be recorded" in said


def emptied(heard: socket.socket) -> list[str]:
    """All words that wait."""
    words: list[str] = []
    while True:
        try:
            words.append(heard.recv(500).decode())
        except BlockingIOError:
            return words


def test_a_start_on_a_full_disk_waits_for_room_and_then_begins(scene: Scene) -> None:
    scene.begin()
    assert scene.ended() == 0
    scene.daemon.start(limit_file_bytes=4096)
    eventually(lambda: "no room" in scene.daemon.said(), what="it says why it waits")
    assert scene.daemon.running
    assert "Traceback" not in scene.daemon.said()
    set_file_limit(scene.daemon.pid, "unlimited")
    scene.pool.tick(gave_up=lambda: not scene.daemon.running)
    scene.feeding()


def test_a_start_that_waits_for_room_can_be_ended(scene: Scene) -> None:
    scene.begin()
    assert scene.ended() == 0
    scene.daemon.start(limit_file_bytes=4096)
    eventually(lambda: "no room" in scene.daemon.said(), what="it says why it waits")
    scene.daemon.signal(signal.SIGTERM)
    assert scene.daemon.wait() == 0


def test_a_journal_folder_that_cannot_be_made_is_refused_with_the_reason(scene: Scene) -> None:
    blocked: Path = scene.installation.folder / "blocked"
    blocked.write_text("a file where the folder should be", encoding="utf-8")
    scene.installation.rewrite(replace={'file = "demo.journal"': 'file = "blocked/demo.journal"'})
    scene.daemon.start()
    assert scene.daemon.wait() == 1
    said = scene.daemon.said()
    assert "blocked" in said
    assert "Traceback" not in said


def test_a_journal_folder_that_nobody_may_write_is_refused_with_the_reason(scene: Scene) -> None:
    scene.installation.rewrite(replace={'file = "demo.journal"': 'file = "/proc/sys/demo.journal"'})  # not even the superuser
    scene.daemon.start()
    assert scene.daemon.wait() == 1
    assert "/proc/sys/demo.journal" in scene.daemon.said()
    assert "Traceback" not in scene.daemon.said()
