"""A broker for the demo and for tests, as a child process: mosquitto where it is installed, else the embedded one.

The embedded broker is a pure Python package. It speaks MQTT 3.1.1 only: no message expiry, no kept sessions, and it does not
enforce the keep-alive. Commands end all the same by the expiry in their payload, at the node.
"""

import shutil
import socket
import subprocess
import sys
import time
from dataclasses import dataclass
from pathlib import Path

READY_LIMIT_S = 15.0


class NoBrokerHere(Exception):
    """Neither broker can be started; the text says what to install."""


@dataclass(slots=True)
class Broker:
    """A running broker. `lacks` : what it can't do, for the banner; "" for nothing."""

    name: str
    host: str
    port: int
    protocol: str
    lacks: str
    process: subprocess.Popen[bytes] | None

    def stop(self) -> None:
        """Ends the child, if it is ours."""
        if self.process is None or self.process.poll() is not None:
            return
        self.process.terminate()
        try:
            self.process.wait(timeout=5.0)
        except subprocess.TimeoutExpired:
            self.process.kill()
            self.process.wait()


def free_port() -> int:
    """A port that was free a moment ago, on loopback."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def start_broker(folder: Path, embedded: bool = False) -> Broker:
    """Starts a broker on a free loopback port. Raises NoBrokerHere where there is none to start."""
    program = None if embedded else shutil.which("mosquitto") or shutil.which("mosquitto", path="/usr/sbin:/usr/local/sbin")
    port = free_port()
    if program is not None:
        settings = folder / "mosquitto.conf"
        settings.write_text(f"listener {port} 127.0.0.1\nallow_anonymous true\nset_tcp_nodelay true\n", encoding="ascii")
        process = subprocess.Popen(
            [program, "-c", str(settings)], stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, start_new_session=True
        )
        broker = Broker("mosquitto", "127.0.0.1", port, "5", "", process)
    else:
        try:
            import amqtt  # noqa: F401 - only whether it is there
        except ImportError:
            raise NoBrokerHere(
                "no broker to start: install the Debian package mosquitto, or this package with its extra "
                "(pip install 'dosectl[demo]'), or give one with --broker HOST:PORT"
            ) from None
        with (folder / "broker.log").open("wb") as log:
            process = subprocess.Popen(
                [sys.executable, "-m", "dosectl.rehearsal.embedded_broker", str(port)],
                stdout=log,
                stderr=subprocess.STDOUT,
                start_new_session=True,
            )
        lacks = (
            "MQTT 3.1.1 only: no message expiry, no kept sessions, no enforced keep-alive; the expiry in each payload ends a feed"
        )
        broker = Broker("embedded", "127.0.0.1", port, "3.1.1", lacks, process)
    _await(broker)
    return broker


def _await(broker: Broker) -> None:
    end = time.monotonic() + READY_LIMIT_S
    while time.monotonic() < end:
        if broker.process is not None and broker.process.poll() is not None:
            break
        try:
            with socket.create_connection((broker.host, broker.port), timeout=1.0):
                return
        except OSError:
            time.sleep(0.05)
    broker.stop()
    raise NoBrokerHere(f"the {broker.name} broker did not come up on port {broker.port} within {READY_LIMIT_S:g} s")
