"""What is wrong with the bus now: codes for the step's health, with facts for a person."""

import logging
import threading
import time
from collections import deque
from collections.abc import Callable
from dataclasses import dataclass

from dosectl.model.instant import Instant
from dosectl.model.reasons import Code, Fact, Reason, ReasonKind

UNREACHABLE = ReasonKind(
    Code("bus.unreachable"),
    "The broker at {where} can't be reached since {since}: {text}. Nothing is fed until it answers; it is tried again and again. "
    "Check the network, the broker, and its address in the settings.",
)
REFUSED = ReasonKind(
    Code("bus.refused"),
    "The broker at {where} refuses the connection since {since}: {text}. Nothing is fed. "
    "Check the account name, the password file and the broker's own list of accounts.",
)
TAKEOVER = ReasonKind(
    Code("bus.takeover"),
    "The connection to the broker broke {count} times in {window_s} s ({since}): another program probably uses the client id "
    "{client_id}. Nothing is fed while it breaks. Stop the other program or give one of them another client id.",
)
FORBIDDEN = ReasonKind(
    Code("bus.forbidden"),
    "The broker refused a message on {topic} since {since}: {text}. What is sent there does not arrive. "
    "Give this account the right to publish there in the broker's access list.",
)
CALLBACK = ReasonKind(
    Code("bus.callback"),
    "Handling a message failed in {where} ({since}): {text}. That message was lost; the connection was kept. "
    "Keep the log and report it: this is a defect of ours.",
)
TWIN = ReasonKind(
    Code("bus.twin"),
    "A second daemon sends its heartbeat under {base} since {since}. Two controllers on one pool must not be. Stop one of them.",
)
_log = logging.getLogger("dosectl.bus")
KINDS: tuple[ReasonKind, ...] = (UNREACHABLE, REFUSED, TAKEOVER, FORBIDDEN, CALLBACK, TWIN)


@dataclass(slots=True)
class _Standing:
    reason: Reason
    until_s: float | None


class Faults:
    """The faults that stand, kept by any thread. Machine seconds: how long a link fault stands is no plant time."""

    def __init__(self, clock: Callable[[], float] = time.monotonic) -> None:
        self._clock = clock
        self._lock = threading.Lock()
        self._standing: dict[Code, _Standing] = {}

    def stand(self, kind: ReasonKind, at: Instant, *, for_s: float | None = None, **facts: Fact) -> None:
        """The fault stands from now, until lifted or until `for_s` passed without its coming again; `since` stays the first."""
        with self._lock:
            known = self._current(kind.code)
            since = known.reason.since if known else at
            self._standing[kind.code] = _Standing(kind.because(since, **facts), None if for_s is None else self._clock() + for_s)
        if known is None:  # said once, and at once: before the first step there is no other place to say it
            _log.warning("%s", kind.words.format(since="now", **facts))

    def lift(self, *kinds: ReasonKind) -> None:
        """These faults are over."""
        with self._lock:
            for kind in kinds:
                self._standing.pop(kind.code, None)

    def reasons(self) -> tuple[Reason, ...]:
        """All faults that stand now."""
        with self._lock:
            return tuple(entry.reason for code in sorted(self._standing) if (entry := self._current(code)) is not None)

    def _current(self, code: Code) -> _Standing | None:
        entry = self._standing.get(code)
        if entry is not None and entry.until_s is not None and self._clock() > entry.until_s:
            del self._standing[code]
            return None
        return entry


class Breaks:
    """Counts how often an established connection broke, to know a take-over from a restarted broker.

    Two clients with one id throw each other off for ever, each back within a second or two; nothing tells either of them why.
    """

    def __init__(self, count: int, window_s: float, clock: Callable[[], float] = time.monotonic) -> None:
        self.count = count
        self.window_s = window_s
        self._clock = clock
        self._times: deque[float] = deque(maxlen=count)

    def broke(self) -> bool:
        """Notes one; True where it is the last of `count` within the window."""
        self._times.append(self._clock())
        return len(self._times) == self.count and self._times[-1] - self._times[0] <= self.window_s
