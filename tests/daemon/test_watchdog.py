"""The service manager hears readiness, life and stopping, on a real datagram socket. Protocol: sd_notify(3)."""

import socket
from pathlib import Path

from dosectl.daemon.watchdog import ServiceManager


def test_the_manager_hears_each_word(tmp_path: Path) -> None:
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as heard:
        path = tmp_path / "notify"
        heard.bind(str(path))
        heard.settimeout(2.0)
        manager = ServiceManager(str(path))
        manager.ready("pool home")
        manager.alive()
        manager.stopping()
        words = [heard.recv(200).decode() for _ in range(3)]
    assert words == ["READY=1\nSTATUS=pool home", "WATCHDOG=1", "STOPPING=1"]


def test_an_abstract_address_works() -> None:
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as heard:
        heard.bind("\0dosectl-test-notify")
        heard.settimeout(2.0)
        ServiceManager("@dosectl-test-notify").alive()
        assert heard.recv(200) == b"WATCHDOG=1"


def test_without_a_manager_nothing_is_said_and_nothing_fails() -> None:
    ServiceManager("").alive()


def test_a_manager_that_went_away_does_not_stop_the_daemon(tmp_path: Path) -> None:
    path = tmp_path / "gone"
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as heard:
        heard.bind(str(path))
    path.unlink()
    ServiceManager(str(path)).alive()
