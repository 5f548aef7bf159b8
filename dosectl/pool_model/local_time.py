"""Local time of day without asking the zone's rules at each step."""

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

SECONDS_PER_DAY = 86400.0


class LocalTime:
    """Turns seconds since the start into local hours and days; the zone's offset is asked once an hour."""

    __slots__ = ("_hour", "_midnight", "_offset_s", "_start", "_zone")

    def __init__(self, start_utc: datetime, time_zone: str) -> None:
        """`start_utc` must be aware. Raises ValueError for a naive time, ZoneInfoNotFoundError for an unknown zone."""
        if start_utc.utcoffset() is None:
            raise ValueError(f"start = {start_utc.isoformat()}: accepted is a time with its zone; give UTC")
        self._start = start_utc.astimezone(UTC)
        self._zone = ZoneInfo(time_zone)
        self._hour = -1
        self._offset_s = 0.0
        self._midnight = datetime(self._start.year, self._start.month, self._start.day, tzinfo=UTC)

    def utc(self, elapsed_s: float) -> datetime:
        """The moment, aware UTC."""
        return self._start + timedelta(seconds=elapsed_s)

    def day_and_hour(self, elapsed_s: float) -> tuple[int, float]:
        """Proleptic ordinal of the local date, and local hour of the day [h]."""
        hour = int(elapsed_s // 3600.0)
        if hour != self._hour:
            self._hour = hour
            offset = self._zone.utcoffset(self.utc(elapsed_s).astimezone(self._zone))
            self._offset_s = (offset.total_seconds() if offset else 0.0) + (self._start - self._midnight).total_seconds()
        day, seconds = divmod(elapsed_s + self._offset_s, SECONDS_PER_DAY)
        return self._midnight.toordinal() + int(day), seconds / 3600.0
