"""Putting an alarm aside: within the limits of its priority, with a reason, and never what may hurt somebody."""

from dataclasses import replace

import pytest

from dosectl.core.requests import Judgement
from dosectl.core.requests.listed import ListedAlarm
from dosectl.model.alarm_acts import ActKind, AlarmAct
from dosectl.model.reasons import Code, Fact
from dosectl.model.requests import Place
from tests.requests.asking import VIEW, ask

HOUR_S = 3600.0


def an_alarm(code: str, **changes: object) -> ListedAlarm:
    alarm = ListedAlarm(Code(code), 2, True, "medium", 24 * HOUR_S, 0, False, False, True)
    return replace(alarm, **changes)  # type: ignore[arg-type]


MEDIUM = an_alarm("probe.still")
CRITICAL = an_alarm("feed.both_ran", priority="critical", shelf_s_max=0.0, may_be_out=False)
CALM = an_alarm("pump.hours_short", standing=False, occurrence=0)


def asked(kind: str, *listed: ListedAlarm, place: Place = Place.REMOTE, **more: Fact) -> Judgement:
    return ask(kind, replace(VIEW, listed=listed or (MEDIUM, CRITICAL, CALM)), place=place, **more)  # type: ignore[arg-type]


def said(judgement: Judgement) -> str:
    return judgement.reply.words.format(**dict(judgement.reply.facts))


WORKING: tuple[tuple[str, dict[str, Fact], ActKind], ...] = (
    ("shelve_alarm", {"alarm": "probe.still", "hours": 12.0, "reason": "cable ordered"}, ActKind.SHELVE),
    ("take_out_of_service", {"alarm": "pump.hours_short", "days": 3.0, "reason": "pump away"}, ActKind.TAKE_OUT),
    ("mark_useless", {"alarm": "probe.still"}, ActKind.USELESS),
)


@pytest.mark.parametrize(("kind", "arguments", "act"), WORKING)
def test_each_is_granted_from_anywhere_with_its_act_and_a_sentence(kind: str, arguments: dict[str, Fact], act: ActKind) -> None:
    judgement = asked(kind, **arguments)
    assert isinstance(judgement.change, AlarmAct)
    assert (judgement.change.kind, judgement.change.by) == (act, "anna")
    assert "{" not in said(judgement)


def test_what_is_aside_comes_back_when_asked() -> None:
    shelved, out = an_alarm("probe.still", shelved=True), an_alarm("flow.lost", out=True)
    back = asked("unshelve_alarm", shelved, out, alarm="probe.still").change
    assert isinstance(back, AlarmAct)
    assert back.kind is ActKind.UNSHELVE
    back = asked("back_in_service", shelved, out, alarm="flow.lost").change
    assert isinstance(back, AlarmAct)
    assert back.kind is ActKind.BACK_IN
    assert "probe.still" in said(asked("unshelve_alarm", shelved, out, alarm="flow.lost"))
    assert "flow.lost" in said(asked("back_in_service", shelved, out, alarm="probe.still"))


@pytest.mark.parametrize(
    ("arguments", "code"),
    [
        ({"alarm": "feed.both_ran"}, "shelve_alarm.critical"),
        ({"alarm": "pump.hours_short"}, "shelve_alarm.none"),
        ({"alarm": "no.such"}, "shelve_alarm.none"),
        ({"hours": 24.1}, "shelve_alarm.long"),
        ({"hours": 500.0}, "request.argument"),
        ({"reason": " x "}, "shelve_alarm.reason"),
    ],
)
def test_a_shelf_is_refused_beyond_its_limits(arguments: dict[str, Fact], code: str) -> None:
    full: dict[str, Fact] = {"alarm": "probe.still", "hours": 12.0, "reason": "cable ordered", **arguments}
    judgement = asked("shelve_alarm", **full)
    assert (judgement.reply.code, judgement.change) == (code, None)
    assert "{" not in said(judgement)


def test_at_most_three_are_shelved_at_once_and_none_twice() -> None:
    others = tuple(an_alarm(f"a.{n}", shelved=True) for n in range(3))
    arguments: dict[str, Fact] = {"alarm": "probe.still", "hours": 1.0, "reason": "cable ordered"}
    assert asked("shelve_alarm", *others, MEDIUM, **arguments).reply.code == "shelve_alarm.full"
    assert asked("shelve_alarm", *others[:2], MEDIUM, **arguments).reply.done
    assert asked("shelve_alarm", replace(MEDIUM, shelved=True), **arguments).reply.code == "shelve_alarm.already"


def test_a_second_time_in_a_row_it_is_shelved_only_at_the_plant_or_the_console() -> None:
    arguments: dict[str, Fact] = {"alarm": "probe.still", "hours": 1.0, "reason": "cable ordered"}
    again = replace(MEDIUM, shelvings=1)
    assert asked("shelve_alarm", again, **arguments).reply.code == "shelve_alarm.again"
    assert asked("shelve_alarm", again, place=Place.CONSOLE, **arguments).reply.done


@pytest.mark.parametrize(
    ("arguments", "code"),
    [
        ({"alarm": "feed.both_ran"}, "take_out_of_service.critical"),
        ({"alarm": "no.such"}, "take_out_of_service.unknown"),
        ({"days": 7.5}, "request.argument"),
        ({"reason": ""}, "take_out_of_service.reason"),
    ],
)
def test_out_of_service_is_refused_beyond_its_limits(arguments: dict[str, Fact], code: str) -> None:
    full: dict[str, Fact] = {"alarm": "probe.still", "days": 3.0, "reason": "pump away", **arguments}
    judgement = asked("take_out_of_service", **full)
    assert (judgement.reply.code, judgement.change) == (code, None)


def test_what_never_came_up_is_not_called_useless() -> None:
    assert asked("mark_useless", alarm="pump.hours_short").reply.code == "mark_useless.none"
