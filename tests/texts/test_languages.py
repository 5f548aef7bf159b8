"""Every sentence that a person is sent exists in every language, with the same places, and stays safe and whole in each."""

import ast
import re
from datetime import UTC, datetime, timedelta
from pathlib import Path
from string import Formatter
from zoneinfo import ZoneInfo

import pytest

import dosectl
from dosectl.core.advice.reminders import KINDS as REMINDERS
from dosectl.core.alarms import ROWS
from dosectl.core.alarms.row import Row
from dosectl.core.alarms.view import Priority
from dosectl.core.interlocks.registry import KINDS, build
from dosectl.texts import calls, lines
from dosectl.texts.calls import Reader, Told, call_text, many_text
from dosectl.texts.figures import MONTHS, moment_text
from dosectl.texts.guards import GUARDS, guard_words
from dosectl.texts.languages import TABLES, translated
from tests.builders import a_site

ROOT = Path(dosectl.__file__).parent
ROME = ZoneInfo("Europe/Rome")
NOW = datetime(2026, 6, 1, 8, 42, tzinfo=UTC)
OTHERS = sorted(set(TABLES) - {"en"})
CALLED = ("filled", "translated", "fill")


def said_in_code() -> set[str]:
    """Every literal that the code hands to the translation, found by reading it."""
    found: set[str] = set()
    for path in (*(ROOT / "texts").glob("*.py"), *(ROOT / "notify").glob("*.py")):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id in CALLED and node.args:
                found |= {
                    leaf.value
                    for leaf in ast.walk(node.args[0])
                    if isinstance(leaf, ast.Constant) and isinstance(leaf.value, str) and leaf.value
                }
    return found


def said() -> set[str]:
    """All English that is sent: literals, tables of words, and the alarm list."""
    rows = {words for row in ROWS for words in (row.title, row.consequence, row.does, row.response, row.respond_within)}
    tables = {*lines.NOT_WELL.values(), *lines.QUANTITIES.values(), *lines.SUBSTANCES.values(), *GUARDS.values()}
    advice = {*calls.DANGER, *calls.WATER, *calls.OTHER, calls.TEST_WORDS, calls.OVER_DANGER, calls.OVER_WATER}
    heads = {"While you were away ({days} days):", "The pool's last {days} days:"}
    drawn = {"{feeder} fed {mg_l} mg/L, {litres} L out of its container", "{feeder} fed {mg_l} mg/L"}
    water = {
        words for words in string_constants(ROOT / "texts" / "lines.py") if "as estimated" in words or words.startswith("pH from")
    }
    priorities = {priority.name for priority in Priority}
    reminders = {kind.words for kind in REMINDERS}
    return (
        rows
        | reminders
        | tables
        | advice
        | heads
        | drawn
        | water
        | priorities
        | set(MONTHS)
        | said_in_code()
        | {"(may be a repeat)"}
    )


def string_constants(path: Path) -> set[str]:
    tree = ast.parse(path.read_text(encoding="utf-8"))
    return {node.value for node in ast.walk(tree) if isinstance(node, ast.Constant) and isinstance(node.value, str)}


def places(words: str) -> list[str]:
    return sorted(name for _, name, _, _ in Formatter().parse(words) if name is not None)


def test_the_search_finds_what_it_should() -> None:
    assert {"Still", "All is well.", "Answer with code {code}: it says only that you know."} <= said_in_code()
    assert len(said()) > 250


@pytest.mark.parametrize("language", OTHERS)
def test_no_sentence_is_missing_and_none_is_left_over(language: str) -> None:
    table = TABLES[language]
    names = {"pH", "{day} {month}"}
    missing = {words for words in said() if words not in table} - {name for name in said() if name in lines.NOT_WELL}
    assert missing == set()
    assert set(table) - said() - names == set(), "words that nobody says any more"


@pytest.mark.parametrize("language", OTHERS)
def test_every_sentence_has_the_same_places_in_every_language(language: str) -> None:
    for english, other in TABLES[language].items():
        assert places(english) == places(other), english
        assert other.strip() == other != ""


def reader(language: str, knows_pool: bool) -> Reader:
    return Reader(language, knows_pool, ROME, "Quince House", "ABCD2345")


@pytest.mark.parametrize("language", sorted(TABLES))
@pytest.mark.parametrize("row", ROWS, ids=lambda row: row.code)
def test_no_call_is_cut_before_what_to_do_in_any_language(row: Row, language: str) -> None:
    for priority in {row.priority, *(priority for _, priority in row.rises)}:
        told = Told(row.code, int(priority), NOW - timedelta(days=40), folded=("feed.acid_stopped", "probe.failure"))
        _, body = call_text(told, reader(language, True), NOW)
        assert translated(row.response, language) in body
        assert "ABCD2345" in body
        assert len(body) <= 400
        _, plain = call_text(told, reader(language, False), NOW)
        assert "…" not in plain
        assert len(plain) <= 400


@pytest.mark.parametrize("language", OTHERS)
def test_a_whole_text_has_no_english_left(language: str) -> None:
    english = re.compile(r"\b(the|and|with|since|pool of|of|by hand|feeding|is)\b", re.I)
    for row in ROWS:
        for knows_pool in (True, False):
            title, body = call_text(Told(row.code, int(row.priority), NOW), reader(language, knows_pool), NOW)
            assert not english.search(f"{title} {body}"), body
    _, many = many_text((Told("feed.siphon", 4, NOW), Told("flow.lost", 2, NOW)), reader(language, True))
    assert not english.search(many), many


# As the English list: whoever handles chemical is trained, whoever opens the plant does so with the pump off.
HANDLING = re.compile(
    r"(nachfüllen|entlüften|säureführende|schlauch|motor\b|reinigen der zelle|säurebehälter|behälter und schlauch)", re.I
)
LIVE = re.compile(r"(korb|filterdeckel)", re.I)


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row.code)
def test_no_german_text_sends_a_layman_to_chemicals_or_a_live_pump(row: Row) -> None:
    response = translated(row.response, "de")
    for sentence in response.split(". "):
        if HANDLING.search(sentence):
            assert "Eingewiesene" in sentence, sentence
    if LIVE.search(response):
        assert "an der Sicherung" in response
    assert not re.search(r"\b(säure|chlor|hypochlorit)\b[^.]*\b(zugeben|einfüllen|hineingeben|schütten)\b", response, re.I)
    if "who smells chlorine stays out and calls for help" in row.response.lower():
        assert "Wer Chlor riecht, bleibt draußen und ruft Hilfe." in response


@pytest.mark.parametrize("language", sorted(TABLES))
def test_who_does_not_know_the_pool_is_always_told_what_to_do_about_a_smell_of_chlorine(language: str) -> None:
    smell = {"en": "smell chlorine", "de": "Chlorgeruch"}[language]
    for row in ROWS:
        for priority in Priority:
            _, body = call_text(Told(row.code, int(priority), NOW), reader(language, False), NOW)
            assert smell in body, body


def test_moments_and_figures_are_written_as_the_language_does() -> None:
    assert moment_text(NOW - timedelta(days=20), ROME, NOW) == "12 May 10:42"
    assert moment_text(NOW - timedelta(days=20), ROME, NOW, "de") == "12. Mai 10:42"
    facts = (("free_mg_l", 3.2), ("low_mg_l", 2.5), ("high_mg_l", 4.0), ("ph", 7.48), ("stock:acid", 16))
    assert lines.line_text("absence.line", facts, "de", ROME) == (
        "Alles in Ordnung. Chlor etwa 3,2 mg/L (2,5 bis 4 mg/L), pH 7,48. acid reicht 16 Tage.".replace(" mg/L)", ")")
    )


@pytest.mark.parametrize("language", sorted(TABLES))
def test_every_interlock_has_words_for_an_account(language: str) -> None:
    for kind in KINDS:
        assert guard_words(kind.code, language) != kind.code
        assert guard_words(f"{kind.code}.acid", language) == guard_words(kind.code, language)
    for guard in build(a_site(), {}):  # one kind may make guards of several names
        assert guard_words(guard.code, language) != guard.code
    assert guard_words("never.heard", language) == "never.heard"
    facts = (("days", 2.0), ("trip:flow.proven", 13), ("trip:change.unfed.ph", 1))
    assert "flow.proven" not in lines.line_text("absence.account", facts, language, ROME)
    of_two = (("days", 2.0), ("trip:feeder.unseen.acid", 2), ("trip:feeder.unseen.cell", 5))
    shown = lines.line_text("absence.account", of_two, language, ROME)
    assert f"{guard_words('feeder.unseen', language)} 7x" in shown
    assert shown.count(guard_words("feeder.unseen", language)) == 1
