"""The pump's hours for a rehearsal: as typed, else as learnt on record, else assumed. All in the pool's own day, 0 to 24."""

import re
from dataclasses import dataclass
from datetime import UTC, datetime
from itertools import pairwise
from zoneinfo import ZoneInfo

from dosectl.cli.spans import WrongSpan
from dosectl.core.control.habit import ASSUMED_OFF, ASSUMED_ON, FlowHabit
from dosectl.settings.load import Loaded
from dosectl.store.faults import JournalError

Windows = tuple[tuple[float, float], ...]

ASSUMED: Windows = ((8.0, 20.0),)  # pumps run by daylight; common practice
DAY_H = 24.0
_WINDOW = re.compile(r"([0-9]{1,2}):([0-9]{2})-([0-9]{1,2}):([0-9]{2})")
_FORMS = "accepted are hours at the pool as HH:MM-HH:MM, several with commas between, such as 08:00-12:00,15:00-21:00"


@dataclass(frozen=True, slots=True)
class PumpHours:
    """Windows of flow, and where they are from, in words."""

    windows: Windows
    source: str

    def __str__(self) -> str:
        return f"{', '.join(_text(window) for window in _joined(self.windows))} ({self.source})"


def pump_hours(typed: str | None, loaded: Loaded, at: datetime) -> PumpHours:
    """Those to rehearse with. `at` : aware, a moment of the day for which hours on record are told. Raises WrongSpan."""
    if typed is not None:
        return PumpHours(read(typed), "as typed")
    learnt = _on_record(loaded)
    windows = () if learnt is None else learnt_windows(learnt, at, loaded.site.pool.time_zone)
    if learnt is not None and windows:
        whole = all(round(60.0 * part) in (0, 60) for part in learnt.expected(at.astimezone(UTC)))
        kind = "whole hours" if whole else "a part of each hour"
        return PumpHours(windows, f"{kind}, as learnt on record")
    return PumpHours(ASSUMED, "assumed; --pump-hours gives others")


def read(text: str) -> Windows:
    """Windows as typed; one that passes midnight becomes two. Raises WrongSpan."""
    windows: list[tuple[float, float]] = []
    for part in text.split(","):
        found = _WINDOW.fullmatch(part.strip())
        if found is None:
            raise _refused(text, f"{part.strip()[:40]!r} is no such window")
        from_h, to_h = _hour(text, found[1], found[2]), _hour(text, found[3], found[4])
        if from_h in (to_h, DAY_H):
            raise _refused(text, f"{part.strip()} has no length (round the clock is 00:00-24:00)")
        passes = to_h < from_h
        windows += [(0.0, to_h), (from_h, DAY_H)] if passes and to_h > 0.0 else [(from_h, DAY_H if passes else to_h)]
    windows.sort()
    if any(later[0] < earlier[1] for earlier, later in pairwise(windows)):
        raise _refused(text, "two windows overlap")
    return tuple(windows)


def learnt_windows(habit: FlowHabit, at: datetime, time_zone: str) -> Windows:
    """The hours in which water was learnt to flow, of a pump that runs a part of each hour the first part of it.

    Empty where an hour is only assumed or none flows.
    """
    if any(share < 0.0 or share in (ASSUMED_ON, ASSUMED_OFF) for share in habit.share):
        return ()
    offset = at.astimezone(ZoneInfo(time_zone)).utcoffset()
    shift_h = offset.total_seconds() / 3600.0 if offset is not None else 0.0
    pieces: list[tuple[float, float]] = []
    for hour, share in enumerate(habit.expected(at.astimezone(UTC))):
        part = round(60.0 * share) / 60.0
        from_h = (hour + shift_h) % DAY_H
        if part > 0.0:
            over_h = max(0.0, from_h + part - DAY_H)
            pieces += [(from_h, from_h + part - over_h)] + ([(0.0, over_h)] if over_h > 0.0 else [])
    windows: list[tuple[float, float]] = []
    for from_h, to_h in sorted(pieces):
        if windows and windows[-1][1] == from_h:
            windows[-1] = (windows[-1][0], to_h)
        else:
            windows.append((from_h, to_h))
    return tuple(windows)


def _on_record(loaded: Loaded) -> FlowHabit | None:
    """The habit of a record beside these settings; None where there is none that can be read."""
    from dosectl.cli.account import kept  # the other verbs' weight, and only where there is a record

    if not loaded.journal_path.exists():
        return None
    try:
        return kept(loaded)[0].habit
    except (JournalError, ValueError, OSError):
        return None


def _hour(text: str, hours: str, minutes: str) -> float:
    hour = int(hours) + int(minutes) / 60.0
    if int(minutes) > 59 or hour > DAY_H:
        raise _refused(text, f"{hours}:{minutes} is no time of day")
    return hour


def _refused(text: str, why: str) -> WrongSpan:
    return WrongSpan(f"--pump-hours {text[:80]}: {why}; {_FORMS}")


def _joined(windows: Windows) -> Windows:
    """For people: what passes midnight is one window."""
    if len(windows) > 1 and windows[0][0] == 0.0 and windows[-1][1] == DAY_H:
        return (*windows[1:-1], (windows[-1][0], windows[0][1]))
    return windows


def _text(window: tuple[float, float]) -> str:
    return " to ".join(f"{round(hour * 60.0) // 60:02d}:{round(hour * 60.0) % 60:02d}" for hour in window)
