"""Tells the service manager how we are: readiness, life after each whole step, status. The sd_notify protocol, by hand.

The life sign is sent by the core loop after a whole step, never by a timer: a hung core must be restarted. A step whose record
could not be written gets none where a new start would mend that, and one where it would not (a full disk).
"""

import os
import socket


class ServiceManager:
    """Datagrams to NOTIFY_SOCKET; without one every call is a no-op."""

    def __init__(self, address: str | None = None) -> None:
        path = os.environ.get("NOTIFY_SOCKET") if address is None else address
        self._path = ("\0" + path[1:]) if path and path.startswith("@") else path
        # It must not block: a manager that reads nothing would hold the core up.
        kind = socket.SOCK_DGRAM | socket.SOCK_CLOEXEC | socket.SOCK_NONBLOCK
        self._socket = socket.socket(socket.AF_UNIX, kind) if path else None

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

    def waiting(self, status: str, seconds: float) -> None:
        """Not ready yet, on purpose: the start may take so much longer."""
        self._say(f"STATUS={status}\nEXTEND_TIMEOUT_USEC={round(seconds * 1e6)}")

    def status(self, text: str) -> None:
        self._say(f"STATUS={text}")

    def reloading(self) -> None:
        self._say("RELOADING=1")

    def stopping(self) -> None:
        self._say("STOPPING=1")
