"""No text that a person can get sends a layman to acid, gas or a live pump: every sentence of every kind, in every language."""

import ast
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

import dosectl
from dosectl.core.advice.reminders import KINDS as REMINDERS
from dosectl.core.alarms import ROWS
from dosectl.core.alarms.priority import Harm
from dosectl.core.alarms.row import Row
from dosectl.core.alarms.view import Priority
from dosectl.model.calls import FLOOD
from dosectl.model.reasons import ReasonKind
from dosectl.notify import answers
from dosectl.texts import lines
from dosectl.texts.calls import Reader, Told, call_text, many_text
from dosectl.texts.languages import TABLES, translated
from dosectl.texts.words import CORE
from tests.texts.laymen import STAYS_OUT, harms

ROOT = Path(dosectl.__file__).parent
ROME = ZoneInfo("Europe/Rome")
NOW = datetime(2026, 6, 1, 8, 42, tzinfo=UTC)
LANGUAGES = sorted(TABLES)
TESTED_BY_HAND = {
    "en": "Nobody swims until the water was tested by hand",
    "de": "Niemand badet, bis das Wasser von Hand getestet",
}


def reader(language: str, knows_pool: bool) -> Reader:
    return Reader(language, knows_pool, ROME, "Quince House", "ABCD2345")


def written(*paths: str) -> Iterator[str]:
    """Every text that these modules hold, their places left open."""
    for path in paths:
        tree = ast.parse((ROOT / path).read_text(encoding="utf-8"))
        joined = [node for node in ast.walk(tree) if isinstance(node, ast.JoinedStr)]
        inner = {id(part) for node in joined for part in node.values}
        yield from ("".join(str(p.value) if isinstance(p, ast.Constant) else "{}" for p in node.values) for node in joined)
        for node in ast.walk(tree):
            if isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in inner and " " in node.value:
                yield node.value


def test_the_check_bites() -> None:
    for text in (
        "Refill the container.",
        "Look at drums and tubes.",
        "Check the sample line's valve and filter.",
        "Clean the tip.",
        "A feeder ran without water flow. Switch the pump off.",
        "Cut its power at the wall.",
        "Look for scale and gas in the cell.",
        "Add acid.",
    ):
        assert harms(text), text
    for text in (
        "Behälter nachfüllen.",
        "Spitze reinigen.",
        "Im Rohr kann Gas stehen: Pumpe von außen abschalten.",
        "Stecker ziehen.",
    ):
        assert harms(text, "de"), text
    assert harms("Have the container refilled by someone trained. Clean the tip with the pump off at its breaker.") == []


def test_no_reason_reply_or_refusal_of_the_step_does() -> None:
    found = [harm for kind in CORE for harm in harms(kind.words)]
    assert found == []


def test_no_reply_to_an_answer_does() -> None:
    kinds = [value for value in vars(answers).values() if isinstance(value, ReasonKind)]
    assert len(kinds) >= 5
    assert [harm for kind in kinds for harm in harms(kind.words)] == []


def test_no_line_of_readiness_and_none_of_what_is_due_does() -> None:
    texts = list(written("core/advice/absence.py", "core/advice/ready_plant.py", "daemon/upkeep.py", "daemon/morning.py"))
    assert any("have it refilled by someone trained" in text for text in texts)
    assert [harm for text in texts for harm in harms(text)] == []


@pytest.mark.parametrize("language", LANGUAGES)
def test_no_reminder_and_no_daily_or_weekly_line_does(language: str) -> None:
    words = [kind.words for kind in REMINDERS] + list(lines.NOT_WELL.values()) + list(written("texts/lines.py"))
    assert [harm for text in words for harm in harms(translated(text, language), language)] == []


@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize("row", ROWS, ids=lambda row: row.code)
def test_no_call_no_escalation_and_no_all_clear_does(row: Row, language: str) -> None:
    for knows_pool in (True, False):
        for priority in Priority:
            for until in (None, NOW):
                told = Told(row.code, int(priority), NOW - timedelta(hours=1), until=until)
                title, body = call_text(told, reader(language, knows_pool), NOW)
                assert harms(f"{title}. {body}", language) == []


@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize("row", ROWS, ids=lambda row: row.code)
def test_a_call_is_whole_and_its_later_ones_lose_no_more_than_the_last_part(row: Row, language: str) -> None:
    for priority in {row.priority, *(priority for _, priority in row.rises), row.away or row.priority}:
        told = Told(row.code, int(priority), NOW - timedelta(days=40))
        _, body = call_text(told, reader(language, True), NOW)
        for part in (row.title, row.does, row.response, row.consequence, row.respond_within):
            assert translated(part, language) in body
        assert len(body) <= 400
        still = Told(row.code, int(priority), NOW - timedelta(days=40), again=True, folded=("feed.acid_stopped", "flow.lost"))
        _, body = call_text(still, reader(language, True), NOW)
        assert "…" not in body
        assert translated(row.response, language) in body


@pytest.mark.parametrize("language", LANGUAGES)
def test_where_people_may_be_hurt_the_all_clear_promises_nothing(language: str) -> None:
    for row in ROWS:
        for knows_pool in (True, False):
            told = Told(row.code, int(row.priority), NOW - timedelta(hours=1), until=NOW)
            _, body = call_text(told, reader(language, knows_pool), NOW)
            assert "…" not in body
            if row.priority is Priority.CRITICAL:
                assert STAYS_OUT[language].search(body), body
            if row.priority >= Priority.HIGH and row.harm in (Harm.HURT, Harm.UNFIT) and row.code.startswith(("water.", "feed.")):
                assert TESTED_BY_HAND[language] in body, body


@pytest.mark.parametrize("language", LANGUAGES)
def test_many_calls_in_one_tell_a_stranger_what_to_do_too(language: str) -> None:
    many = tuple(Told(row.code, int(row.priority), NOW) for row in ROWS[:12])
    flood = Told(FLOOD, 4, NOW, folded=tuple(row.code for row in ROWS[:12]))
    for _, body in (many_text(many, reader(language, False)), call_text(flood, reader(language, False), NOW)):
        assert STAYS_OUT[language].search(body), body
        assert len(body) <= 400
