"""Who is called when: repeats, the second person, quiet hours, a night that has an hour twice, and what ages out."""

from datetime import UTC, datetime, timedelta

import pytest

from dosectl.model.call_log import Attempt, OpenCall, Outcome
from dosectl.notify.due import LINE, OVER, Due, dues, quiet
from tests.notify.people import NOON, ZONE, person

ANNA = person("anna", 1, "json://a", "json://b")
BERT = person("bert", 2, "json://c", knows_pool=False)
CARL = person("carl", 3, "json://d")
ALL = (ANNA, BERT, CARL)
NIGHT = datetime(2026, 6, 1, 21, 0, tzinfo=UTC)  # 23:00 at the pool


def a_call(priority: int, at: datetime = NOON, change: str = "raised", **rest: datetime) -> OpenCall:
    return OpenCall(1, "k:1", at, "k", 1, priority, change, "", (), "", (), rest.get("answered"), "", rest.get("cleared"))


def taken(step: int, who: str, route: str, begun: datetime, outcome: Outcome = Outcome.TAKEN) -> Attempt:
    return Attempt(1, step, who, route, f"{step}{who}{route}{begun}", begun, begun, outcome)


def shape(found: tuple[Due, ...]) -> list[tuple[int, str, str]]:
    return [(item.step, item.person.id, item.route.name) for item in found]


def now_due(call: OpenCall, now: datetime, *attempts: Attempt, away: bool = False) -> list[tuple[int, str, str]]:
    return shape(dues((call,), attempts, ALL, now, ZONE, away=away)[0])


def simulate(call: OpenCall, hours: float, away: bool = False) -> list[tuple[timedelta, int, str]]:
    """Every minute of so many hours with routes that take everything and nobody who answers: (after, step, person)."""
    attempts: list[Attempt] = []
    sent: list[tuple[timedelta, int, str]] = []
    for minute in range(int(hours * 60) + 1):
        now = call.at + timedelta(minutes=minute)
        for item in dues((call,), attempts, ALL, now, ZONE, away=away)[0]:
            attempts.append(taken(item.step, item.person.id, item.route.name, now))
            if item.route == item.person.routes[0]:
                sent.append((now - call.at, item.step, item.person.id))
    return sent


def test_a_critical_call_goes_to_two_persons_at_once_and_to_the_third_after_half_an_hour_at_night_too() -> None:
    sent = simulate(a_call(4, NIGHT), 1.0)
    firsts = {who: after for after, step, who in sent if step == 0}
    assert firsts == {"anna": timedelta(), "bert": timedelta(), "carl": timedelta(minutes=30)}
    assert [after.total_seconds() / 60 for after, _, who in sent if who == "anna"] == [0, 5, 10, 15, 20, 25, 55]


def test_a_high_call_is_repeated_each_half_hour_by_day_each_two_hours_by_night_and_goes_on_to_the_second_person() -> None:
    by_day, by_night = simulate(a_call(3), 3.0), simulate(a_call(3, NIGHT), 3.0)
    assert [after.total_seconds() / 60 for after, _, who in by_day if who == "anna"] == [0, 30, 60, 90, 120, 150, 180]
    assert [after.total_seconds() / 60 for after, _, who in by_night if who == "anna"] == [0, 120]
    assert min(after for after, _, who in by_day if who == "bert") == timedelta(hours=2)
    away = simulate(a_call(3), 3.0, away=True)
    assert min(after for after, _, who in away if who == "bert") == timedelta(hours=1)


def test_a_call_that_nobody_answered_is_repeated_over_another_route_as_the_first_may_swallow_all() -> None:
    call = a_call(2)
    first = taken(0, "anna", "way0", NOON)
    assert now_due(call, NOON) == [(0, "anna", "way0")]
    assert now_due(call, NOON + timedelta(hours=11), first) == []
    assert now_due(call, NOON + timedelta(hours=22), first) == [(1, "anna", "way1")]
    second = taken(1, "anna", "way1", NOON + timedelta(hours=22))
    assert now_due(call, NOON + timedelta(hours=46), first, second) == [(2, "anna", "way0")]


def test_a_medium_call_waits_for_the_morning_and_uses_one_route() -> None:
    sent = simulate(a_call(2, NIGHT), 10.0)
    assert sent == [(timedelta(hours=8), 0, "anna")]
    assert now_due(a_call(2), NOON) == [(0, "anna", "way0")]


def test_a_low_call_waits_for_the_digest_hour_and_a_notice_calls_nobody() -> None:
    assert simulate(a_call(1, NOON), 24.0) == [(timedelta(hours=20), 0, "anna")]  # 08:00 at the pool
    assert now_due(a_call(0), NOON + timedelta(days=1)) == []


def test_a_route_that_did_not_take_a_step_gets_it_again_and_one_that_took_it_does_not() -> None:
    attempts = (taken(0, "anna", "way0", NOON), taken(0, "anna", "way1", NOON, Outcome.FAILED))
    assert now_due(a_call(3), NOON + timedelta(minutes=1), *attempts) == [(0, "anna", "way1")]


def test_a_try_whose_end_nobody_knows_is_due_again() -> None:
    assert now_due(a_call(2), NOON, taken(0, "anna", "way0", NOON, Outcome.UNKNOWN)) == [(0, "anna", "way0")]


@pytest.mark.parametrize("priority", [2, 3, 4])
def test_an_answer_stops_all_calling_until_the_alarm_is_over(priority: int) -> None:
    attempts = (taken(0, "anna", "way0", NOON),)
    assert now_due(a_call(priority, answered=NOON), NOON + timedelta(hours=9), *attempts) == []


def test_the_all_clear_goes_once_where_the_call_went() -> None:
    call = a_call(3, cleared=NOON + timedelta(hours=1))
    now = NOON + timedelta(hours=1)
    first = (taken(0, "anna", "way1", NOON),)
    assert now_due(call, now, *first) == [(OVER, "anna", "way1")]
    found, closing = dues((call,), (*first, taken(OVER, "anna", "way1", now)), ALL, now, ZONE)
    assert (found, [item.why for item in closing]) == ((), ["over"])


def test_what_was_over_before_any_route_took_it_is_told_once_as_past() -> None:
    assert now_due(a_call(3, cleared=NOON), NOON + timedelta(hours=1)) == [(OVER, "anna", "way0")]


def test_what_is_over_or_a_mere_line_ages_out_after_a_day_but_an_alarm_that_stands_never_does() -> None:
    later = NOON + timedelta(hours=25)
    calls = (a_call(3, cleared=NOON), a_call(1, change=LINE), a_call(3), a_call(4))
    _, closing = dues(calls, (), ALL, later, ZONE)
    assert [item.why for item in closing] == ["aged", "aged"]


def test_quiet_hours_follow_the_wall_clock_through_the_nights_in_which_it_is_set() -> None:
    for start in (datetime(2026, 3, 28, 12, tzinfo=UTC), datetime(2026, 10, 24, 12, tzinfo=UTC)):
        for quarter in range(96):
            now = start + timedelta(minutes=15 * quarter)
            hour = now.astimezone(ZONE).hour
            assert quiet(ANNA, now, ZONE) == (hour >= 22 or hour < 7), now
    for night, first_due in (((2026, 3, 28, 22, 30), 6.5), ((2026, 10, 24, 22, 30), 7.5)):
        call = a_call(2, datetime(*night[:3], night[3] - 0, night[4], tzinfo=UTC))
        sent = simulate(call, 12.0)
        assert len(sent) == 1, "once, although an hour comes twice or not at all"
        local = (call.at + sent[0][0]).astimezone(ZONE)
        assert (local.hour, local.minute) == (7, 0)
        assert sent[0][0] == timedelta(hours=first_due), "the length of the night is the real one"
