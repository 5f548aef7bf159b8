"""UTC as whole microseconds and milliseconds, exact both ways."""

from datetime import UTC, datetime, timedelta

_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
_MICRO = timedelta(microseconds=1)


def to_us(moment: datetime) -> int:
    """Microseconds since 1970. Raises TypeError for a naive time: it names no moment."""
    return (moment - _EPOCH) // _MICRO


def to_ms(moment: datetime) -> int:
    """Milliseconds since 1970, rounded down."""
    return to_us(moment) // 1000


def from_us(at_us: int) -> datetime:
    """Aware UTC."""
    return _EPOCH + timedelta(microseconds=at_us)


def from_ms(at_ms: int) -> datetime:
    """Aware UTC."""
    return from_us(at_ms * 1000)
