"""A point in time as the step sees it: an argument, never read from a clock."""

from dataclasses import dataclass
from datetime import datetime


@dataclass(frozen=True, slots=True)
class Instant:
    """One moment, on three scales.

    mono_s : monotonic time of the process's machine [s]; durations are taken from it
    utc : aware UTC; days, sun and records are taken from it
    boot : identity of the machine start (or simulated run) that `mono_s` belongs to
    """

    mono_s: float
    utc: datetime
    boot: str

    def since_s(self, earlier: "Instant") -> float:
        """Seconds from `earlier` to this moment. Raises ValueError across boots: monotonic times do not compare."""
        if earlier.boot != self.boot:
            raise ValueError(f"monotonic times of boots {earlier.boot!r} and {self.boot!r} do not compare")
        return self.mono_s - earlier.mono_s
