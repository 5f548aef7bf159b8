"""Which objections are there to stay: what looks ahead from the record must not plan a feed that they bar.

Most denials end by themselves within minutes or hours, or with the pump's next run, and say nothing of tomorrow. A rate holds
for days: it is kept with the end that it names, so that no plan goes on with it.
"""

from collections.abc import Iterator, Mapping
from datetime import datetime, timedelta

from dosectl.core.controller.uses import COVER, RHYTHM
from dosectl.core.interlocks.arbiter import Objections
from dosectl.core.interlocks.guard import ITSELF
from dosectl.model.feeds import FeederId
from dosectl.model.reasons import Code, Fact, Reason
from dosectl.model.verdicts import Bar, Denial, Limit

HELD_FLOW_S = 3600.0  # of flow that a denial lasted through: every wait of healthy feeding is shorter; own judgement
HELD_S = 86400.0  # without such flow: a pool's pump runs once a day at least
RATE = "rate_mg_l_day"
UNDER_COVER = "limit_mg_l"
ENDS = "until_utc"
SAME_END = timedelta(minutes=10)  # ends are told to the minute, by a wall clock that is set now and then

Held = Mapping[tuple[FeederId, Code], tuple[float, float]]
"""Plant clock and flow clock [s] since which a guard has denied a feeder."""


def barred(
    before: tuple[Bar, ...], held: Held, objections: Objections, clock_s: float, flow_s: float
) -> tuple[tuple[Bar, ...], Held]:
    """The bars after this step and since when each denial stands; the same objects as before where neither changed.

    A bar of `before` stays while its guard denies: a restart doesn't make a lasting fault a short one.
    """
    since: dict[tuple[FeederId, Code], tuple[float, float]] = {}
    for feeder, denial in _denials(objections):
        since[feeder, denial.guard] = held.get((feeder, denial.guard), (clock_s, flow_s))
    stood = {(bar.feeder, bar.guard) for bar in before if bar.rate_mg_l_day is None}
    bars = [
        Bar(feeder, denial.guard, denial.why)
        for feeder, denial in _denials(objections)
        if _lasts(denial, clock_s - since[feeder, denial.guard][0], flow_s - since[feeder, denial.guard][1])
        or (feeder, denial.guard) in stood
    ]
    bars += [
        Bar(feeder, verdict.guard, verdict.why, float(rate), _end(verdict.why))
        for feeder, verdicts in objections.items()
        for verdict in verdicts
        if isinstance(verdict, Limit) and isinstance(rate := _rate(verdict), int | float)
    ]
    same = len(bars) == len(before) and all(map(_same, bars, before))
    return before if same else tuple(bars), held if since == held else since


def _denials(objections: Objections) -> Iterator[tuple[FeederId, Denial]]:
    """Denials but those that belong to healthy feeding or name their own end."""
    for feeder, verdicts in objections.items():
        for verdict in verdicts:
            if isinstance(verdict, Denial) and str(verdict.why.code) not in RHYTHM and verdict.why.fact(ENDS) is None:
                yield feeder, verdict


def _lasts(denial: Denial, for_s: float, flowed_s: float) -> bool:
    return denial.latched or denial.clears_by != ITSELF or flowed_s >= HELD_FLOW_S or for_s >= HELD_S


def _rate(verdict: Limit) -> Fact | None:
    """What a limit lets be fed in a day for as long as it holds; None for one that only counts a window."""
    return verdict.why.fact(UNDER_COVER if str(verdict.guard) == COVER else RATE)


def _end(why: Reason) -> datetime | None:
    """The end that a reason names; None for one that names none, or none that can be compared with a moment."""
    try:
        end = datetime.fromisoformat(str(why.fact(ENDS)))
    except ValueError:
        return None
    return end if end.tzinfo is not None else None


def _same(bar: Bar, other: Bar) -> bool:
    """Whether nothing makes a bar another one; the figures of its reason change with every step."""
    if (bar.until is None) is not (other.until is None):
        return False
    moved = abs(bar.until - other.until) if bar.until is not None and other.until is not None else timedelta(0)
    return _key(bar) == _key(other) and moved < SAME_END


def _key(bar: Bar) -> tuple[FeederId, Code, Code, float | None]:
    return bar.feeder, bar.guard, bar.why.code, bar.rate_mg_l_day
