"""The bus is believed alive by its own echo: what we sent came back. The client's flag stays true over a dead thread."""

import json
import threading
import uuid
from collections import deque
from dataclasses import dataclass

from dosectl.model.instant import Instant

ECHO_BYTES_MAX = 1024


@dataclass(frozen=True, slots=True)
class Heard:
    """What an echo was: of this run, or of another daemon under the same base topic."""

    ours: bool


class Echo:
    """Age of the newest heartbeat that came back, by the time written in it.

    The time of sending counts, not that of arrival: after the process was frozen, everything that waited in the socket comes
    before the next heartbeat, so nothing of it is acted upon as if it were fresh.
    """

    def __init__(self) -> None:
        self._run = uuid.uuid4().hex
        self._lock = threading.Lock()
        self._sent: deque[float] = deque(maxlen=64)
        self._newest: tuple[str, float] | None = None

    def payload(self, now: Instant) -> bytes:
        """A heartbeat of this run."""
        with self._lock:
            self._sent.append(now.mono_s)
        return json.dumps({"run": self._run, "mono_s": now.mono_s, "boot": now.boot}).encode()

    def hear(self, payload: bytes) -> Heard | None:
        """Takes in what arrived on the echo topic; None where it is no heartbeat, or none that was sent."""
        try:
            body = json.loads(payload[:ECHO_BYTES_MAX])
            run, boot, mono_s = body["run"], str(body["boot"]), body["mono_s"]
        except (ValueError, TypeError, LookupError, RecursionError):
            return None
        if run != self._run:
            return Heard(ours=False) if isinstance(run, str) else None
        with self._lock:
            if mono_s not in self._sent:  # made up: a time to come would keep a dead bus alive
                return None
        self.mark(boot, mono_s)
        return Heard(ours=True)

    def mark(self, boot: str, mono_s: float) -> None:
        """Something came back that had been sent at that moment (in a simulation, the plant's tick is such a thing)."""
        with self._lock:
            if self._newest is None or self._newest[0] != boot or mono_s > self._newest[1]:
                self._newest = (boot, mono_s)

    def age_s(self, now: Instant) -> float | None:
        """Age of the newest echo [s], None before the first of this boot."""
        with self._lock:
            newest = self._newest
        if newest is None or newest[0] != now.boot:
            return None
        return max(0.0, now.mono_s - newest[1])
