"""The service manager hears readiness, life and stopping, on a real datagram socket. Protocol: sd_notify(3)."""

import socket
import threading
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


def test_a_manager_that_reads_nothing_never_holds_the_core_up(tmp_path: Path) -> None:
    """A datagram to a full queue blocks on a socket that may block: the core would stand still for the manager's sake."""
    path = tmp_path / "notify"
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as heard:
        heard.bind(str(path))
        manager = ServiceManager(str(path))

        def signs() -> None:
            for _ in range(2000):
                manager.alive()

        core = threading.Thread(target=signs, daemon=True)
        core.start()
        core.join(20.0)
        assert not core.is_alive()
