"""What the account of an absence says of alarms: those that stood when it began too, and those that are over but latched."""

from datetime import UTC, datetime, timedelta

from dosectl.daemon.account import _alarms
from dosectl.model.reasons import Code
from dosectl.store.views import AlarmLine

START = datetime(2026, 7, 1, tzinfo=UTC)
END = START + timedelta(days=10)


def line(hours: float, change: str, present: bool, latched: bool = False, code: str = "feed.siphon") -> AlarmLine:
    return AlarmLine(START + timedelta(hours=hours), Code(code), 1, change, "critical", present, False, latched, ())


def test_an_alarm_that_stood_at_the_start_is_told_and_counts_from_the_start() -> None:
    assert dict(_alarms((line(-30.0, "raised", True),), START, END)) == {"alarm:feed.siphon": 1, "longest:feed.siphon": 240.0}
    ended = (line(-30.0, "raised", True), line(5.0, "cleared", False))
    assert dict(_alarms(ended, START, END)) == {"alarm:feed.siphon": 1, "longest:feed.siphon": 5.0}


def test_an_alarm_that_was_over_before_is_not_told() -> None:
    assert dict(_alarms((line(-30.0, "raised", True), line(-20.0, "cleared", False)), START, END)) == {}


def test_a_latched_alarm_stands_after_its_cause_is_over() -> None:
    lines = (line(-30.0, "raised", True, True), line(-20.0, "cleared", False, True))
    assert dict(_alarms(lines, START, END))["longest:feed.siphon"] == 240.0


def test_alarms_of_the_time_itself_are_counted_as_before() -> None:
    lines = (line(1.0, "raised", True), line(3.0, "cleared", False), line(5.0, "raised", True), line(6.0, "cleared", False))
    assert dict(_alarms(lines, START, END)) == {"alarm:feed.siphon": 2, "longest:feed.siphon": 2.0}
