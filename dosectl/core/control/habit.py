"""The hours in which water usually flows, learnt from the flow itself.

Hours are those of UTC: the step knows no time zone tables, and a pump timer that shifts by an hour is learnt again in days.
"""

from dataclasses import dataclass, replace
from datetime import datetime

HOURS = 24
LEARNS = 0.3  # share of a day's news that is kept: a new timer is learnt in about three days
USUAL = 0.5
SEEN_S_MIN = 1800.0


@dataclass(frozen=True, slots=True)
class FlowHabit:
    """Share of each UTC hour with proven flow; -1 where not yet seen. Durable. `hour`, `on_s`, `seen_s`: the running hour."""

    share: tuple[float, ...] = (-1.0,) * HOURS
    hour: int = -1
    on_s: float = 0.0
    seen_s: float = 0.0

    def watched(self, utc: datetime, dt_s: float, flowing: bool) -> "FlowHabit":
        """With `dt_s` more seconds of this hour seen."""
        on_s = dt_s if flowing else 0.0
        if utc.hour == self.hour:
            return replace(self, on_s=self.on_s + on_s, seen_s=self.seen_s + dt_s)
        share = self.share
        if self.hour >= 0 and self.seen_s >= SEEN_S_MIN:
            news, before = self.on_s / self.seen_s, share[self.hour]
            learnt = news if before < 0.0 else before + LEARNS * (news - before)
            share = (*share[: self.hour], learnt, *share[self.hour + 1 :])
        return FlowHabit(share, utc.hour, on_s, dt_s)

    def flows(self, hour: int) -> bool:
        """Whether water is expected to flow in an hour of the day; what was never seen is taken to flow on."""
        share = self.share[hour % HOURS]
        return share < 0.0 or share >= USUAL

    @property
    def daily_h(self) -> float:
        """Expected hours of flow a day, hours never seen counted in full; at least 1."""
        return max(1.0, sum(1.0 if share < 0.0 else share for share in self.share))

    def ahead(self, utc: datetime) -> tuple[float, float]:
        """Hours until the present flow is expected to end, and hours of pause after it (24, 0 where no end is known)."""
        into_h = utc.minute / 60.0 + utc.second / 3600.0
        end = next((step for step in range(1, HOURS) if not self.flows(utc.hour + step)), None)
        if end is None:
            return float(HOURS), 0.0
        pause = next((step for step in range(HOURS) if self.flows(utc.hour + end + step)), HOURS)
        return end - into_h, float(pause)
