"""The measures of the alarm list, counted by hand from a typed record."""

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

import pytest

from dosectl.cli.alarms import document, health_lines
from dosectl.core.alarms.health import health
from dosectl.model.reasons import Code

START = datetime(2026, 6, 1, tzinfo=UTC)
END = START + timedelta(weeks=4)


@dataclass(frozen=True)
class Row:
    at: datetime
    code: Code
    occurrence: int
    change: str
    priority: str
    present: bool


def row(hours: float, code: str, occurrence: int, change: str, priority: str = "medium", present: bool = True) -> Row:
    return Row(START + timedelta(hours=hours), Code(code), occurrence, change, priority, present)


def a_month() -> tuple[Row, ...]:
    rows: list[Row] = []
    for n in range(4):  # four times the same, answered after 1, 2, 3, 4 h
        rows.append(row(100 * n, "flow.lost", n + 1, "raised"))
        rows.append(row(100 * n + n + 1, "flow.lost", n + 1, "answered"))
        rows.append(row(100 * n + 5, "flow.lost", n + 1, "cleared", present=False))
    rows += [row(402, "flow.lost", 4, "useless", present=False), row(403, "flow.lost", 4, "useless", present=False)]
    rows += [row(420, "probe.failure", 1, "raised"), row(421, "probe.failure", 1, "restless")]
    rows += [row(600, "node.offline", 1, "raised", "high"), row(640, "node.offline", 1, "cleared", "high", present=False)]
    rows += [row(660, "pump.hours_short", 1, "raised", "notice"), row(661, "feed.container_low", 1, "raised", "low")]
    return tuple(rows)


def test_rate_and_priorities_leave_notices_out() -> None:
    found = health(a_month(), START, END)
    assert found.per_week == 7 / 4
    assert found.by_priority == {"critical": 0, "high": 1, "medium": 5, "low": 1}


def test_what_stands_long_comes_and_goes_or_reaches_nobody_is_named() -> None:
    found = health(a_month(), START, END)
    assert found.standing == ((Code("probe.failure"), 672.0 - 420.0),)
    assert found.restless == ("probe.failure",)
    assert found.unanswered == ("node.offline",)


def test_the_most_frequent_and_the_useless_are_named_with_their_share() -> None:
    found = health(a_month(), START, END)
    assert [(kind.code, kind.times) for kind in found.top] == [("flow.lost", 4)]
    assert [kind.code for kind in found.kinds if kind.wants_review] == ["flow.lost"]


def test_the_median_time_to_answer_is_per_priority() -> None:
    assert health(a_month(), START, END).answer_s == {"medium": 2.5 * 3600.0}


def test_a_quiet_month_is_healthy_and_says_so() -> None:
    found = health((), START, END)
    assert list(health_lines(found)) == ["over 4.0 weeks: 0.0 alarms a week (none); at most 1 a week is healthy"]
    assert document(found)["kinds"] == []


def test_what_needs_a_person_says_what_to_do() -> None:
    told = "\n".join(health_lines(health(a_month(), START, END)))
    for piece in ("mend it, shelve it", "flow.lost makes 57 %", "loose contact", "review its limit", "calls reach somebody"):
        assert piece.replace(" %", "%") in told


def test_a_time_without_length_is_refused() -> None:
    with pytest.raises(ValueError, match="no length"):
        health((), START, START)
