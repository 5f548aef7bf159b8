"""Real services as children of a test: a broker on a free loopback port, ended by its own process id.

A missing program fails the test where CI=true; elsewhere the test is skipped and says what to install.
"""

import os
import shutil
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from pathlib import Path

import pytest

START_LIMIT_S = 15.0
LOOPBACK = "127.0.0.1"


def free_port() -> int:
    """A TCP port of the loopback address that was free a moment ago."""
    with socket.socket() as probe:
        probe.bind((LOOPBACK, 0))
        return int(probe.getsockname()[1])


def require_program(name: str, package: str) -> str:
    """Path of a program, looked for on the PATH and in /usr/sbin."""
    found = shutil.which(name) or shutil.which(name, path="/usr/sbin:/usr/local/sbin:/usr/bin")
    if found:
        return found
    text = f"{name} is not installed: this test needs it. Install the Debian package `{package}`."
    if os.environ.get("CI") == "true":
        pytest.fail(text)
    pytest.skip(text)


def eventually(is_so: Callable[[], object], limit_s: float = 15.0, what: str = "") -> None:
    """Waits until `is_so()` is true; fails the test after `limit_s` (a bound against hanging, not a figure)."""
    end = time.monotonic() + limit_s
    while not is_so():
        if time.monotonic() > end:
            pytest.fail(f"still not so after {limit_s:g} s: {what or is_so}")
        time.sleep(0.01)


@dataclass
class Child:
    """A child process that serves a loopback TCP port; it may be started again with the same files and port."""

    argv: list[str]
    port: int
    log: Path
    environment: Mapping[str, str] = field(default_factory=dict)
    process: subprocess.Popen[bytes] | None = None
    host: str = LOOPBACK

    @property
    def pid(self) -> int:
        assert self.process is not None
        return self.process.pid

    def start(self) -> None:
        """Starts it and waits until it takes connections."""
        with self.log.open("ab") as out:
            self.process = subprocess.Popen(
                self.argv, stdin=subprocess.DEVNULL, stdout=out, stderr=out, env={**os.environ, **self.environment}
            )
        end = time.monotonic() + START_LIMIT_S
        while True:
            with suppress(OSError), socket.create_connection((LOOPBACK, self.port), timeout=1):
                return
            if self.process.poll() is not None or time.monotonic() > end:
                self.kill()
                raise RuntimeError(f"{self.argv[0]} did not start:\n{self.log.read_text(errors='replace')[-2000:]}")
            time.sleep(0.01)

    def _end(self, how: signal.Signals) -> None:
        if self.process is None:
            return
        if self.process.poll() is None:
            self.process.send_signal(how)
            with suppress(ProcessLookupError):
                self.process.send_signal(signal.SIGCONT)
        try:
            self.process.wait(timeout=10)
        except subprocess.TimeoutExpired:
            self.process.kill()
            self.process.wait()

    def stop(self) -> None:
        """Asks it to end (SIGTERM) and waits."""
        self._end(signal.SIGTERM)

    def kill(self) -> None:
        """Ends it without warning (SIGKILL) and waits."""
        self._end(signal.SIGKILL)

    def freeze(self) -> None:
        """Stops it in its tracks: the port stays open and nothing answers."""
        os.kill(self.pid, signal.SIGSTOP)

    def thaw(self) -> None:
        os.kill(self.pid, signal.SIGCONT)

    def restart(self) -> None:
        """Ends it in order and starts it again on the same port."""
        self.stop()
        self.start()


@dataclass(frozen=True)
class Certificates:
    """PEM files of a private authority and of a server named `localhost` and 127.0.0.1, signed by it."""

    authority: Path
    server: Path
    server_key: Path


def certificates(folder: Path) -> Certificates:
    """Makes them with the openssl program."""
    openssl = require_program("openssl", "openssl")
    folder.mkdir(parents=True, exist_ok=True)
    ca, ca_key, cert, key, request, names = (
        folder / name for name in ("ca.pem", "ca.key", "server.pem", "server.key", "server.csr", "names.cnf")
    )
    names.write_text("subjectAltName=DNS:localhost,IP:127.0.0.1\n")

    def run(*arguments: str | Path) -> None:
        subprocess.run([openssl, *map(str, arguments)], check=True, capture_output=True)

    new = ("-nodes", "-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:prime256v1")
    run("req", "-x509", *new, "-keyout", ca_key, "-out", ca, "-days", "2", "-subj", "/CN=test authority")
    run("req", *new, "-keyout", key, "-out", request, "-subj", "/CN=localhost")
    run(
        "x509", "-req", "-in", request, "-CA", ca, "-CAkey", ca_key, "-CAcreateserial", "-out", cert,
        "-days", "2", "-extfile", names,
    )  # fmt: skip
    return Certificates(ca, cert, key)


def password_file(folder: Path, passwords: Mapping[str, str]) -> Path:
    """A mosquitto password file with these accounts."""
    program = require_program("mosquitto_passwd", "mosquitto")
    path = folder / "passwords"
    path.write_text("".join(f"{name}:{word}\n" for name, word in passwords.items()))
    path.chmod(0o600)
    subprocess.run([program, "-U", str(path)], check=True, capture_output=True)
    return path


def acl_file(folder: Path, text: str) -> Path:
    """A mosquitto access list."""
    path = folder / "acl"
    path.write_text(text)
    path.chmod(0o600)
    return path


def make_mosquitto(
    folder: Path,
    *lines: str,
    passwords: Mapping[str, str] | None = None,
    acl: str | None = None,
    tls: Certificates | None = None,
    nodelay: bool = True,
    port: int | None = None,
) -> Child:
    """A mosquitto that is not started yet; further `lines` go to its configuration as they are.

    nodelay : as in the configuration that we ship: the broker too must not wait for delayed acknowledgements
    """
    program = require_program("mosquitto", "mosquitto")
    folder.mkdir(parents=True, exist_ok=True)
    port = free_port() if port is None else port
    config = [f"listener {port} {LOOPBACK}", "log_dest stderr", "log_type all"]
    if os.geteuid() == 0:
        config.append("user root")  # else it gives up its rights and cannot read the test's files
    if nodelay:
        config.append("set_tcp_nodelay true")
    if tls is not None:
        config += [f"cafile {tls.authority}", f"certfile {tls.server}", f"keyfile {tls.server_key}"]
    config.append(f"allow_anonymous {'false' if passwords else 'true'}")
    if passwords:
        config.append(f"password_file {password_file(folder, passwords)}")
    if acl is not None:
        config.append(f"acl_file {acl_file(folder, acl)}")
    path = folder / "mosquitto.conf"
    path.write_text("\n".join([*config, *lines]) + "\n")
    return Child([program, "-c", str(path)], port, folder / "mosquitto.log")


@contextmanager
def start_mosquitto(
    folder: Path,
    *lines: str,
    passwords: Mapping[str, str] | None = None,
    acl: str | None = None,
    tls: Certificates | None = None,
    nodelay: bool = True,
    port: int | None = None,
) -> Iterator[Child]:
    """A running mosquitto (see make_mosquitto); killed at the end."""
    broker = make_mosquitto(folder, *lines, passwords=passwords, acl=acl, tls=tls, nodelay=nodelay, port=port)
    broker.start()
    try:
        yield broker
    finally:
        broker.kill()


@contextmanager
def start_amqtt(folder: Path, port: int | None = None) -> Iterator[Child]:
    """A running amqtt, which speaks MQTT 3.1.1 only; killed at the end."""
    folder.mkdir(parents=True, exist_ok=True)
    port = free_port() if port is None else port
    program = (
        "import asyncio\n"
        "from amqtt.broker import Broker\n"
        f"config = {{'listeners': {{'default': {{'type': 'tcp', 'bind': '{LOOPBACK}:{port}'}}}},\n"
        "          'plugins': {'amqtt.plugins.authentication.AnonymousAuthPlugin': {'allow_anonymous': True}}}\n"
        "async def serve():\n"
        "    await Broker(config).start()\n"
        "    await asyncio.Event().wait()\n"
        "asyncio.run(serve())\n"
    )
    broker = Child([sys.executable, "-c", program], port, folder / "amqtt.log")
    broker.start()
    try:
        yield broker
    finally:
        broker.kill()
