"""A whole installation for a test: broker with accounts and access list, settings, the daemon as a real process, its journal."""

import os
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Iterator, Mapping
from contextlib import contextmanager, suppress
from pathlib import Path

import pytest

from dosectl.rehearsal.demo_settings import demo_settings
from dosectl.settings.load import Loaded, load
from tests.services import Certificates, Child, make_mosquitto

ROOT = Path(__file__).parents[2]
PASSWORDS = {name: f"{name}-word" for name in ("dosectl", "plantroom", "probes", "owner", "hub", "plant")}
END_LIMIT_S = 60.0


def access_list(base: str) -> str:
    """The access list that we ship, for this base, with an account more: the simulated plant and its onlooker."""
    text = (ROOT / "deploy/broker/dosectl.acl").read_text(encoding="utf-8")
    plant = f"\nuser plant\ntopic readwrite {base}/#\ntopic readwrite plant/#\n"
    return text.replace("dosectl/home", base).replace("topic read home/#", "topic read plant/#") + plant


def guarded_broker(folder: Path, base: str, tls: Certificates | None = None, port: int | None = None) -> Child:
    """A mosquitto with a password file and our access list, not started yet."""
    return make_mosquitto(folder, passwords=PASSWORDS, acl=access_list(base), tls=tls, port=port)


def write_secret(path: Path, text: str) -> None:
    path.write_text(text + "\n", encoding="utf-8")
    path.chmod(0o600)


class Daemon:
    """`dosectl run` as a process; ended by its own id, its log kept."""

    def __init__(self, config: Path, log: Path) -> None:
        self.config = config
        self.log = log
        self.process: subprocess.Popen[bytes] | None = None

    def start(self, *words: str, environment: Mapping[str, str] | None = None, limit_file_bytes: int | None = None) -> None:
        """Starts it; `limit_file_bytes` bounds the size of any file that it writes (a full disk, for one process)."""
        argv = [sys.executable, "-m", "dosectl.cli", "run", "--config", str(self.config), *words]
        if limit_file_bytes is not None:
            argv = ["prlimit", f"--fsize={limit_file_bytes}:", *argv]
        with self.log.open("ab") as out:
            self.process = subprocess.Popen(
                argv, stdin=subprocess.DEVNULL, stdout=out, stderr=out, cwd=ROOT, env={**os.environ, **(environment or {})}
            )

    @property
    def pid(self) -> int:
        assert self.process is not None
        return self.process.pid

    @property
    def running(self) -> bool:
        return self.process is not None and self.process.poll() is None

    def said(self) -> str:
        return self.log.read_text(encoding="utf-8", errors="replace") if self.log.exists() else ""

    def signal(self, which: signal.Signals) -> None:
        os.kill(self.pid, which)

    def wait(self, limit_s: float = END_LIMIT_S) -> int:
        """Its exit status; negative where a signal ended it."""
        assert self.process is not None
        try:
            return self.process.wait(timeout=limit_s)
        except subprocess.TimeoutExpired:
            pytest.fail(f"the daemon did not end within {limit_s:g} s; it said:\n{self.said()[-3000:]}")

    def kill(self) -> None:
        """SIGKILL, and away."""
        if self.process is None:
            return
        with suppress(ProcessLookupError):
            self.process.kill()
        self.process.wait()


def run_words(*words: str, typed: str = "", environment: Mapping[str, str] | None = None) -> subprocess.Popen[str]:
    """A command line as a process, its input already typed."""
    process = subprocess.Popen(
        [sys.executable, "-m", "dosectl.cli", *words],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        cwd=ROOT,
        env={**os.environ, "COLUMNS": "160", **(environment or {})},
    )
    assert process.stdin is not None
    with suppress(BrokenPipeError):
        process.stdin.write(typed)
        process.stdin.close()
    process.stdin = None
    return process


class Installation:
    """Settings for a simulated pool at one broker, and its daemon."""

    def __init__(self, folder: Path, port: int, more: str = "", hypochlorite: bool = False, host: str = "127.0.0.1") -> None:
        folder.mkdir(parents=True, exist_ok=True)
        self.folder = folder
        self.port = port
        self.base = "dosectl/demo"
        write_secret(folder / "dosectl.secret", PASSWORDS["dosectl"])
        write_secret(folder / "owner.secret", PASSWORDS["owner"])
        self.config = folder / "pool.toml"
        self.owner_config = folder / "owner.toml"
        self._plain = demo_settings(host, port, "auto", hypochlorite)
        self.rewrite(more)
        self.daemon = Daemon(self.config, folder / "daemon.log")

    def rewrite(self, more: str = "", replace: Mapping[str, str] | None = None) -> None:
        """Writes the settings: the demo's, this broker's account, changed where `replace` says, and `more` tables at the end."""
        text = self._plain
        for old, new in (replace or {}).items():
            assert old in text, f"{old!r} is not in the settings"
            text = text.replace(old, new)
        for path, account in ((self.config, "dosectl"), (self.owner_config, "owner")):
            signed = f'[broker]\nusername = "{account}"\npassword_file = "{account}.secret"'
            path.write_text(text.replace("[broker]", signed) + "\n" + more, encoding="utf-8")

    @property
    def loaded(self) -> Loaded:
        return load(self.config)

    @property
    def journal(self) -> Path:
        return self.folder / "demo.journal"


@contextmanager
def running(daemon: Daemon, *words: str, **how: object) -> Iterator[Daemon]:
    """The daemon, killed at the end whatever happened."""
    daemon.start(*words, **how)  # type: ignore[arg-type]
    try:
        yield daemon
    finally:
        daemon.kill()


class NotifySocket:
    """Where a service manager would listen."""

    def __init__(self, folder: Path) -> None:
        self.path = folder / "notify"
        self._socket = socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM)
        self._socket.bind(str(self.path))
        self._socket.settimeout(0.05)

    def until(self, word: str, meanwhile: "object" = None, limit_s: float = 30.0) -> list[str]:
        """All lines up to the first that starts with `word`; calls `meanwhile` between."""
        lines: list[str] = []
        end = time.monotonic() + limit_s
        while time.monotonic() < end:
            if callable(meanwhile):
                meanwhile()
            with suppress(TimeoutError):
                lines += self._socket.recv(4096).decode().splitlines()
            if any(line.startswith(word) for line in lines):
                return lines
        pytest.fail(f"no {word} within {limit_s:g} s; heard: {lines}")

    def close(self) -> None:
        self._socket.close()
