"""Some days of a pool out of its record, minute by minute: what a replay holds other settings against."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from itertools import pairwise

from dosectl.core.site import Site
from dosectl.model.feeds import FeederId, Substance
from dosectl.model.signals import SignalId, SignalKind
from dosectl.store.read import Record
from dosectl.store.views import FeedLine, RequestLine

MINUTE = timedelta(minutes=1)
FAR = datetime(2200, 1, 1, tzinfo=UTC)
DAY_MINUTES = 24 * 60
FREE_CHLORINE = "free_chlorine_mg_l"
BELIEVED_LEAST_SHARE = 0.5
"""Of the minutes: with less on record the water of these days is mostly guessed at. Own judgement."""


class NothingToReplay(Exception):
    """The record does not reach so far, or has too little of these days; the text says what it has."""


@dataclass(frozen=True, slots=True)
class Past:
    """site : as the record was made, by the settings of now; start : aware UTC, a whole minute

    readings : by signal, one value a minute in the signal's unit, switches 0 to 1; NaN where none could be believed
    free_mg_l : free chlorine as it was believed, gaps bridged
    fed_g : by feeder, one figure a minute of what was booked; fed_by : what each of these feeders fed
    asked : what people asked for and was granted
    poured : what was put in by hand from the start on until now: minute, stabiliser, alkalinity [mg/L]
    gap_minutes : of which the record says nothing of the water
    """

    site: Site
    start: datetime
    minutes: int
    readings: Mapping[SignalId, Sequence[float]]
    free_mg_l: Sequence[float]
    fed_g: Mapping[FeederId, Sequence[float]]
    fed_by: Mapping[FeederId, Substance]
    asked: tuple[RequestLine, ...]
    poured: tuple[tuple[float, float, float], ...]
    gap_minutes: int

    @property
    def end(self) -> datetime:
        """The first minute after these days."""
        return self.start + self.minutes * MINUTE

    def at(self, utc: datetime) -> float:
        """Minutes since the start, with their fraction."""
        return (utc - self.start) / MINUTE

    def free_at(self, minute: float) -> float:
        """Free chlorine as it was believed. [mg/L]"""
        last = self.minutes - 1
        before = min(last, max(0, math.floor(minute)))
        after = min(last, before + 1)
        share = min(1.0, max(0.0, minute - before))
        return self.free_mg_l[before] + share * (self.free_mg_l[after] - self.free_mg_l[before])

    def fed_between(self, substance: Substance, from_minute: float, to_minute: float) -> float:
        """What was booked between two moments, even within a minute. [mg/L; acid as CaCO3 removed]"""
        feeders = (feeder for feeder, fed in self.fed_by.items() if fed is substance)
        return sum(self.drawn_g(feeder, from_minute, to_minute) for feeder in feeders) / self.site.pool.volume_m3

    def fed_in_all(self, substance: Substance) -> float:
        """What was booked in these days. [mg/L; acid as CaCO3 removed]"""
        return self.fed_between(substance, 0.0, self.minutes)

    def drawn_g(self, feeder: FeederId, from_minute: float, to_minute: float) -> float:
        """What one feeder was booked between two moments; 0 of one that is not on record. [g]"""
        fed, total_g = self.fed_g.get(feeder, ()), 0.0
        for minute in range(max(0, math.floor(from_minute)), min(len(fed), math.ceil(to_minute))):
            total_g += fed[minute] * (min(to_minute, minute + 1.0) - max(from_minute, minute))
        return total_g

    def poured_since(self, minute: float) -> tuple[float, float]:
        """Stabiliser and alkalinity that were put in by hand from a moment on until now. [mg/L]"""
        later = [pour for pour in self.poured if pour[0] > minute]
        return sum(pour[1] for pour in later), sum(pour[2] for pour in later)

    def of_kind(self, kind: SignalKind) -> Sequence[float] | None:
        """Readings of the first signal of a kind, None where none is fitted."""
        signal = self.site.first(kind)
        return None if signal is None else self.readings[signal.id]


def past(record: Record, site: Site, start: datetime, days: float) -> Past:
    """So many days from a start. Raises NothingToReplay, and the journal's errors."""
    start = start.replace(second=0, microsecond=0)
    minutes = round(days * DAY_MINUTES)
    end = start + minutes * MINUTE
    believed = _minutes(record, FREE_CHLORINE, start, minutes)
    known = [value for value in believed if not math.isnan(value)]
    if len(known) < BELIEVED_LEAST_SHARE * minutes:
        share = 100.0 * len(known) / max(1, minutes)
        raise NothingToReplay(
            f"the record has the water of {share:.0f} % of the minutes from {start:%Y-%m-%d %H:%M} to {end:%Y-%m-%d %H:%M} UTC, "
            f"and a replay needs {100.0 * BELIEVED_LEAST_SHARE:.0f} %. Take --days and --from-day within the time that the "
            "daemon ran; minutes are kept for 60 days."
        )
    gap_minutes = minutes - len(known)
    _bridge(believed)
    asked = record.requests(start, FAR)
    feeds = record.feeds(start - timedelta(days=1), end)
    fed_g = _fed(feeds, site, start, minutes)
    substances = {feeder.id: feeder.substance for feeder in site.feeders}
    substances |= {feed.feeder: feed.substance for feed in feeds if feed.substance is not None}
    return Past(
        site,
        start,
        minutes,
        {signal.id: _minutes(record, signal.id, start, minutes) for signal in site.signals},
        believed,
        fed_g,
        {feeder: substances[feeder] for feeder in fed_g if feeder in substances},  # an older record says it of none that left
        tuple(line for line in asked if line.at < end),
        tuple(_pour(line, start) for line in asked if str(line.kind) == "added_by_hand"),
        gap_minutes,
    )


def _pour(line: RequestLine, start: datetime) -> tuple[float, float, float]:
    """What an addition changed, as its answer told; one said to be from before the start counts from it."""
    said = dict(line.answered)
    hours_ago = float(str(dict(line.arguments).get("hours_ago", 0.0)))
    minute = max(0.0, (line.at - start) / MINUTE - 60.0 * hours_ago)
    stabiliser, alkalinity = (float(str(said.get(name, 0.0))) for name in ("stabiliser_mg_l", "alkalinity_mg_l"))
    return minute, stabiliser, alkalinity


def _minutes(record: Record, signal: str, start: datetime, minutes: int) -> list[float]:
    found = [math.nan] * minutes
    for point in record.series(signal, start, start + minutes * MINUTE, 60.0):
        found[(point.at - start) // MINUTE] = point.mean
    return found


def _bridge(values: list[float]) -> None:
    """Fills gaps by straight lines, and the ends by their nearest value, in place."""
    known = [place for place, value in enumerate(values) if not math.isnan(value)]
    for place in range(known[0]):
        values[place] = values[known[0]]
    for place in range(known[-1] + 1, len(values)):
        values[place] = values[known[-1]]
    for before, after in pairwise(known):
        for place in range(before + 1, after):
            share = (place - before) / (after - before)
            values[place] = values[before] + share * (values[after] - values[before])


def _fed(feeds: tuple[FeedLine, ...], site: Site, start: datetime, minutes: int) -> dict[FeederId, list[float]]:
    """Each reservation from its opening at the feeder's rate, no longer than it lived, by feeder. [g a minute]"""
    rates_g_s = {feeder.id: feeder.rate_g_s for feeder in site.feeders}
    found: dict[FeederId, list[float]] = {}
    for feed in feeds:
        booked = found.setdefault(feed.feeder, [0.0] * minutes)
        begins = (feed.at - start) / MINUTE
        rate_g_s = rates_g_s.get(feed.feeder, 0.0)
        lasted_s = min(feed.lasted_s, feed.mass_g / rate_g_s) if rate_g_s > 0.0 else feed.lasted_s
        ends = begins + max(lasted_s, 1.0) / 60.0
        for minute in range(max(0, math.floor(begins)), min(minutes, math.ceil(ends))):
            booked[minute] += feed.mass_g * (min(ends, minute + 1.0) - max(begins, minute)) / (ends - begins)
    return found


def value_at(values: Sequence[float], minute: float) -> float:
    """The value of a minute, the first or last one beyond the ends."""
    return values[min(len(values) - 1, max(0, math.floor(minute)))]
