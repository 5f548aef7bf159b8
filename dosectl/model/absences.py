"""A time in which the owner is away: people are called sooner, and each day one line says that all is well, or what is not."""

from dataclasses import dataclass
from datetime import datetime


@dataclass(frozen=True, slots=True)
class Absence:
    """One absence. Nothing that feeds knows of it.

    by : who said so; begun, until : aware UTC; begun_s, until_s : the same on the plant clock [s]
    ended, ended_s : None while it lasts; by_itself : its time was up, nobody said "back"
    """

    by: str
    begun: datetime
    begun_s: float
    until: datetime
    until_s: float
    ended: datetime | None = None
    ended_s: float | None = None
    by_itself: bool = False


def lasting(absences: tuple[Absence, ...]) -> Absence | None:
    """The absence that lasts now, None where nobody is away."""
    return absences[-1] if absences and absences[-1].ended is None else None
