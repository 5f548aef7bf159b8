"""The hours in which water usually flows, learnt from the flow itself.

Hours are those of UTC: the step knows no time zone tables, and a pump timer that shifts by an hour is learnt again in days.
"""

from dataclasses import dataclass, replace
from datetime import datetime

HOURS = 24
DAY_S = 86400.0
LEARNS = 0.3  # share of a day's news that is kept: a new timer is learnt in about three days
USUAL = 0.5
PARTS_LEAST = 6  # stops within a day: then its hours are told in parts, for it may run a part of each
PARTS_WITHIN_S = DAY_S - 1800.0  # not the stop of a day before, which a timer sets to the same second
STRADDLES = 0.6  # of any hour is less than this: some windows may make half of one, and others not
PARTS_H_MIN = 2.0  # of flow a day, where no hour is mostly one of flow; less is a short run, and a long pause after it
PARTS_END_S = 2.0 * DAY_S  # without a stop: by then a pump that runs on has each hour learnt as one of flow
PART_LEAST = 0.12  # of such an hour: less is no hour of flow any more, as a changed timer is learnt
SEEN_S_MIN = 1800.0
ASSUMED_FROM_H, ASSUMED_TO_H = 8, 18  # solar time: pumps run by daylight; common practice
ASSUMED_ON, ASSUMED_OFF = 0.6, 0.4  # one day of news outweighs what was assumed
STOPS_KEPT = 5  # at least, so that a single window's time outlives three days on which it did not come
STOP_DAYS_KEPT = 3  # at least, of several windows a day: each has the second stop that makes it a timer, and one to spare
STOPS_MOST = 36  # twelve windows a day; a flow switch that flaps fills no more than that
SAME_STOP_S = 240.0  # stops of different days within this are one timer's
SOON_S = 180.0  # a feed ends so long before the stop that is expected: nothing fresh may stand in the pipe


@dataclass(frozen=True, slots=True)
class FlowHabit:
    """Share of each UTC hour with proven flow; -1 where nothing is even assumed. Durable.

    hour, on_s, seen_s : the running hour; stops_s : seconds of the UTC day at which flow ended lately, newest last
    stops_day : the UTC day of each (1 is that of the year 1); fewer where an older record did not tell the first ones'
    """

    share: tuple[float, ...] = (-1.0,) * HOURS
    hour: int = -1
    on_s: float = 0.0
    seen_s: float = 0.0
    stops_s: tuple[float, ...] = ()
    stops_day: tuple[int, ...] = ()

    @classmethod
    def assumed(cls, longitude_deg: float) -> "FlowHabit":
        """What is assumed of a new pool: flow by daylight. Without it the first night would be fed for as if the pump ran."""
        solar = (round(hour + longitude_deg / 15.0) % HOURS for hour in range(HOURS))
        return cls(tuple(ASSUMED_ON if ASSUMED_FROM_H <= hour < ASSUMED_TO_H else ASSUMED_OFF for hour in solar))

    def stopped(self, utc: datetime) -> "FlowHabit":
        """With an end of flow at this moment.

        Kept are the last five stops and all of the last three days that had any: five alone hold one or two of each window.
        """
        days, seconds = (*self._days(), utc.toordinal()), (*self.stops_s, _second_of_day(utc))
        recent = tuple(dict.fromkeys(reversed(days)))[:STOP_DAYS_KEPT]  # by order, not by date: a wrong clock may have been ahead
        first = next(index for index, day in enumerate(days) if day in recent)
        first = max(len(days) - STOPS_MOST, min(first, len(days) - STOPS_KEPT), 0)
        return replace(self, stops_s=seconds[first:], stops_day=days[first:])

    def stops_soon(self, utc: datetime) -> bool:
        """Whether flow is about to end by a timer: at about this time it ended on at least two of the last days."""
        now_s = _second_of_day(utc)
        near = [stop for stop in self.stops_s if -SAME_STOP_S / 2 <= (stop - now_s + DAY_S / 2) % DAY_S - DAY_S / 2 <= SOON_S]
        return len(near) >= 2

    def _days(self) -> tuple[int, ...]:
        """The day of each stop; of those that an older record kept without, each is a day of its own, long ago."""
        untold = len(self.stops_s) - len(self.stops_day)
        return (*range(-untold, 0), *self.stops_day)

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
        return replace(self, share=share, hour=utc.hour, on_s=on_s, seen_s=dt_s)

    @property
    def daily_h(self) -> float:
        """Expected hours of flow a day, hours never seen counted in full; at least 1."""
        return max(1.0, sum(1.0 if share < 0.0 else share for share in self.share))

    def part(self, utc: datetime) -> float:
        """Share of this hour in which water flows, of a pump that runs in many short parts a day; else 1.

        It is known by its stops: the shares alone look alike where a pump is stopped for days or where its timer is changed.
        """
        share = self.share[utc.hour]
        return share if self._in_parts(utc) and share >= PART_LEAST else 1.0

    def _in_parts(self, utc: datetime) -> bool:
        now_s = utc.toordinal() * DAY_S + _second_of_day(utc)
        ages_s = [now_s - day * DAY_S - stop for day, stop in zip(self._days(), self.stops_s, strict=True)]
        newest_s = min((age_s for age_s in ages_s if age_s >= 0.0), default=PARTS_END_S)
        stops = sum(0.0 <= age_s - newest_s < PARTS_WITHIN_S for age_s in ages_s)
        if newest_s < PARTS_END_S and stops >= PARTS_LEAST:
            return True
        # windows of less than an hour may lie across the hours, so that none is mostly one of flow
        straddle = min(self.share) >= 0.0 and max(self.share) < STRADDLES and sum(self.share) >= PARTS_H_MIN
        return straddle and newest_s <= DAY_S and stops >= 2

    def later(self, days: int) -> "FlowHabit":
        """As it will stand some days later if all goes on as now."""
        return replace(self, stops_day=tuple(day + days for day in self.stops_day)) if days else self

    def expected(self, utc: datetime) -> tuple[float, ...]:
        """Share of each UTC hour in which water is expected to flow, as seen from now. Never seen, it flows.

        Of a pump in many short parts what was learnt of each hour, else 1 or 0.
        """
        if self._in_parts(utc):
            return tuple(1.0 if share < 0.0 else share if share >= PART_LEAST else 0.0 for share in self.share)
        return tuple(1.0 if share < 0.0 or share >= USUAL else 0.0 for share in self.share)

    def ahead(self, utc: datetime) -> tuple[float, float]:
        """Hours until the present flow is expected to end, and hours of pause after it (24, 0 where no end is known).

        The short rests of a pump that runs a part of each hour are no pauses.
        """
        flows = [share > 0.0 for share in self.expected(utc)]
        into_h = utc.minute / 60.0 + utc.second / 3600.0
        end = next((step for step in range(1, HOURS) if not flows[(utc.hour + step) % HOURS]), None)
        if end is None:
            return float(HOURS), 0.0
        pause = next((step for step in range(HOURS) if flows[(utc.hour + end + step) % HOURS]), HOURS)
        return end - into_h, float(pause)


def _second_of_day(utc: datetime) -> float:
    return utc.hour * 3600.0 + utc.minute * 60.0 + utc.second
