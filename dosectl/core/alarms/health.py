"""How healthy the alarm list is, from the record of its changes: rate, what stands, what comes and goes, time to answer.

Measures after ISA-18.2 and EEMUA 191 (from memory, unchecked), cut down to one household: fewer than one alarm a week.
"""

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from statistics import median
from typing import Protocol

from dosectl.model.reasons import Code

BEGINS = ("raised", "worse")
STANDING = timedelta(hours=72)
TOP_SHARE = 0.30
TOP_COUNT_MIN = 3  # a share of two alarms says nothing
USELESS_SHARE = 1.0 / 3.0
WEEKLY_MAX = 1.0
ALARMS = ("critical", "high", "medium", "low")
"""Priorities that count; a notice is no alarm."""


class Line(Protocol):
    """One recorded change of one alarm."""

    @property
    def at(self) -> datetime: ...
    @property
    def code(self) -> Code: ...
    @property
    def occurrence(self) -> int: ...
    @property
    def change(self) -> str: ...
    @property
    def priority(self) -> str: ...
    @property
    def present(self) -> bool: ...


@dataclass(frozen=True, slots=True)
class Kind:
    """One kind of alarm: how often it came, its share of all, and how often it was called useless."""

    code: Code
    times: int
    share: float
    useless: int

    @property
    def wants_review(self) -> bool:
        """More than a third of it was of no use."""
        return self.useless > USELESS_SHARE * self.times


@dataclass(frozen=True, slots=True)
class Health:
    """The alarm list over a time.

    per_week : alarms a week, notices left out; by_priority : how often each priority came
    standing : medium and above that have stood for more than 72 h, (code, hours); restless : what came and went too often
    kinds : the most frequent first; answer_s : median time from coming to the answer per priority [s]
    unanswered : high and above without an answer after 24 h
    """

    weeks: float
    per_week: float
    by_priority: Mapping[str, int]
    standing: tuple[tuple[Code, float], ...]
    restless: tuple[Code, ...]
    kinds: tuple[Kind, ...]
    answer_s: Mapping[str, float]
    unanswered: tuple[Code, ...]

    @property
    def top(self) -> tuple[Kind, ...]:
        """Kinds that make more than 30 % of all: mending these mends the list."""
        return tuple(kind for kind in self.kinds if kind.share > TOP_SHARE and kind.times >= TOP_COUNT_MIN)


def health(lines: Sequence[Line], start: datetime, end: datetime) -> Health:
    """The measures over `start` to `end` (aware UTC), `lines` in order. Raises ValueError where the time has no length.

    An alarm that came before `start` counts among what stands only from its first change within the time.
    """
    weeks = (end - start) / timedelta(weeks=1)
    if weeks <= 0.0:
        raise ValueError(f"the time from {start} to {end} has no length")
    begun: dict[tuple[Code, int], Line] = {}
    unanswered: dict[tuple[Code, int], Line] = {}
    answers: dict[str, list[float]] = {}
    for line in lines:
        key = (line.code, line.occurrence)
        if line.change in BEGINS:
            begun[key] = unanswered[key] = line
        elif line.change in ("answered", "let_go"):
            first = unanswered.pop(key, None)
            if first is not None and line.change == "answered":
                answers.setdefault(first.priority, []).append((line.at - first.at).total_seconds())
        elif line.change == "risen" and key in unanswered:
            unanswered[key] = line
    useless = Counter(line.code for line in lines if line.change == "useless")
    alarms = [line for line in begun.values() if line.priority in ALARMS]
    times = Counter(line.code for line in alarms)
    kinds = tuple(Kind(code, count, count / len(alarms), useless[code]) for code, count in times.most_common())
    return Health(
        weeks=weeks,
        per_week=len(alarms) / weeks,
        by_priority={name: sum(line.priority == name for line in alarms) for name in ALARMS},
        standing=_standing(lines, end),
        restless=tuple(dict.fromkeys(line.code for line in lines if line.change == "restless")),
        kinds=kinds,
        answer_s={name: median(found) for name, found in answers.items()},
        unanswered=tuple(
            dict.fromkeys(
                line.code for line in unanswered.values() if line.priority in ALARMS[:2] and end - line.at > timedelta(hours=24)
            )
        ),
    )


def _standing(lines: Sequence[Line], end: datetime) -> tuple[tuple[Code, float], ...]:
    """What is present at the end and has been for long, medium and above, the longest first."""
    since: dict[Code, datetime] = {}
    weight: dict[Code, str] = {}
    for line in lines:
        weight[line.code] = line.priority
        if line.present:
            since.setdefault(line.code, line.at)
        else:
            since.pop(line.code, None)
    hour = timedelta(hours=1)
    found = [(code, (end - at) / hour) for code, at in since.items() if end - at > STANDING and weight[code] in ALARMS[:3]]
    return tuple(sorted(found, key=lambda item: -item[1]))
