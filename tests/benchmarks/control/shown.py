"""What a probe's display showed while water flowed, so that a hand test is held against the reading of its own time."""

from bisect import bisect_right
from datetime import datetime, timedelta

OLDEST = timedelta(days=1)
MEANT = timedelta(minutes=20)
KEPT = 3000  # readings of two minutes: four days and more, and a test is entered a day and a half late at the most


class Shown:
    """Readings of settled flow, in order of time."""

    def __init__(self) -> None:
        self._utc: list[datetime] = []
        self._value: list[float] = []

    def add(self, utc: datetime, value: float) -> None:
        self._utc.append(utc)
        self._value.append(value)
        if len(self._utc) > 2 * KEPT:
            del self._utc[:KEPT], self._value[:KEPT]

    def at(self, taken_utc: datetime) -> float | None:
        """The reading that a test of then belongs to: the mean of the last twenty minutes of flow before it, at most a day old;
        else the first one after it. None where there was none yet. Many pumps rest in the evening, when owners test."""
        after = bisect_right(self._utc, taken_utc)
        if after and taken_utc - self._utc[after - 1] <= OLDEST:
            near = self._value[bisect_right(self._utc, self._utc[after - 1] - MEANT) : after]
            return sum(near) / len(near)
        return self._value[after] if after < len(self._utc) else None
