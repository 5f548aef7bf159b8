"""Tells the service manager how we are: readiness, life after each whole step, status. The sd_notify protocol, by hand.

The life sign is sent by the core loop after a completed step and a commit, never by a timer: a hung core must be restarted.
"""

import os
import socket


class ServiceManager:
    """Datagrams to NOTIFY_SOCKET; without one every call is a no-op."""

    def __init__(self, address: str | None = None) -> None:
        path = os.environ.get("NOTIFY_SOCKET") if address is None else address
        self._path = ("\0" + path[1:]) if path and path.startswith("@") else path
        self._socket = socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM | socket.SOCK_CLOEXEC) if path else None

    def _say(self, text: str) -> None:
        if self._socket is None or self._path is None:
            return
        try:
            self._socket.sendto(text.encode(), self._path)
        except OSError:
            # The manager went away or its buffer is full; the next life sign comes within a second.
            return

    def ready(self, status: str) -> None:
        self._say(f"READY=1\nSTATUS={status}")

    def alive(self) -> None:
        self._say("WATCHDOG=1")

    def status(self, text: str) -> None:
        self._say(f"STATUS={text}")

    def reloading(self) -> None:
        self._say("RELOADING=1")

    def stopping(self) -> None:
        self._say("STOPPING=1")
