"""Reads the clocks, the only place that does. A scaled clock for simulated pools advances on the pool's ticks alone."""

import ctypes
import time
from datetime import UTC, datetime
from pathlib import Path
from typing import Protocol

from dosectl.model.instant import Instant

TIME_ERROR = 5  # adjtimex(2): the clock is not synchronised


class Clock(Protocol):
    """What the daemon asks of a clock."""

    def now(self) -> Instant: ...

    def trusted(self) -> bool:
        """Whether wall-clock time may be believed."""
        ...


class SystemClock:
    """The machine's own clocks. Monotonic time includes suspension, so that a sleep of the machine is no lost time."""

    def __init__(self) -> None:
        try:
            self._boot = Path("/proc/sys/kernel/random/boot_id").read_text(encoding="ascii").strip()
        except OSError:
            self._boot = f"process-{time.time_ns():x}"
        self._source = getattr(time, "CLOCK_BOOTTIME", time.CLOCK_MONOTONIC)

    def now(self) -> Instant:
        return Instant(time.clock_gettime(self._source), datetime.now(UTC), self._boot)

    def trusted(self) -> bool:
        return synchronised()


def synchronised() -> bool:
    """Whether the kernel says that its wall clock is disciplined (adjtimex(2) reports no TIME_ERROR).

    Where the call can't be made the answer is no: off-time then counts as zero and time-of-day logic waits.
    """
    try:
        libc = ctypes.CDLL(None, use_errno=True)
        buffer = ctypes.create_string_buffer(512)  # struct timex is 208 bytes on 64-bit Linux; zeroed: read only
        state = int(libc.adjtimex(buffer))
    except (OSError, AttributeError):
        return False
    return 0 <= state < TIME_ERROR


class TickClock:
    """Time of a simulated pool: stands still between the pool's ticks, so a slow machine slows it and never ages a message."""

    def __init__(self, boot: str) -> None:
        self._now: Instant | None = None
        self._boot = boot

    def advance(self, mono_s: float, utc: datetime) -> None:
        """Moves to the tick's moment. Raises ValueError for a tick that goes back: the pool's process restarted."""
        if self._now is not None and mono_s < self._now.mono_s:
            raise ValueError(f"the simulated pool's clock went back from {self._now.mono_s} to {mono_s} s; start the demo again")
        self._now = Instant(mono_s, utc, self._boot)

    def started(self) -> bool:
        """Whether a first tick has come."""
        return self._now is not None

    def now(self) -> Instant:
        return self._now or Instant(0.0, datetime(2000, 1, 1, tzinfo=UTC), self._boot)

    def trusted(self) -> bool:
        return True

    def from_wall(self, moment: datetime) -> datetime:
        """A moment of this machine's wall clock on the pool's calendar, which may lie years apart."""
        return self.now().utc + (moment - datetime.now(UTC))
