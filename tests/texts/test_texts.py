"""Every reason becomes a sentence in local time with sensible digits; what is unknown is shown, never raised."""

import importlib
import inspect
import pkgutil
import re
from datetime import UTC, datetime, timedelta
from string import Formatter
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

import dosectl.core
from dosectl.core.alarms import CAUSES, ROWS, Alarm, conditions, containers, due, findings, people, silent, unfed, upkeep, weak
from dosectl.core.alarms.rows import feeding, plant, probes, water
from dosectl.model.instant import Instant
from dosectl.model.reasons import Code, Reason, ReasonKind
from dosectl.model.requests import Reply, RequestId
from dosectl.model.verdicts import Denial, Limit, Permit
from dosectl.texts.figures import moment_text, number_text
from dosectl.texts.render import Texts, sentence
from dosectl.texts.words import CORE, by_code

ROME = ZoneInfo("Europe/Rome")
TEXTS = Texts("Europe/Rome")
UTC_NOW = datetime(2026, 6, 1, 8, 42, tzinfo=UTC)
NOW = Instant(100.0, UTC_NOW, "b1")


def reason(code: str, **facts: float | str | bool) -> Reason:
    return Reason(Code(code), tuple(facts.items()), NOW)


def declared() -> dict[str, ReasonKind]:
    """Every reason kind that a module of the step declares, found by reading the modules; answers of `advice` bring their own."""
    found: dict[str, ReasonKind] = {}
    for info in pkgutil.walk_packages(dosectl.core.__path__, "dosectl.core."):
        if info.name.startswith("dosectl.core.advice"):
            continue
        module = importlib.import_module(info.name)
        for value in vars(module).values():
            if isinstance(value, ReasonKind):
                found[value.code] = value
    return found


def test_every_reason_of_the_step_has_its_words_in_the_list() -> None:
    assert set(declared()) <= set(by_code())


def test_every_cause_that_an_alarm_finds_has_words() -> None:
    sources = "".join(
        inspect.getsource(module)
        for module in (conditions, containers, due, findings, people, silent, unfed, upkeep, weak, water, probes, plant, feeding)
    )
    assert set(re.findall(r'"(alarm\.[a-z_]+)"', sources)) == {kind.code for kind in CAUSES}


def test_no_words_name_a_place_that_python_cannot_read() -> None:
    for kind in CORE:
        for _, name, spec, conversion in Formatter().parse(kind.words):
            assert name is None or re.fullmatch(r"[a-z][a-z0-9_]*", name), kind.code
            assert not conversion, kind.code
            assert spec is None or re.fullmatch(r"(\.\d[fg])?", spec), kind.code


def test_a_reason_is_told_in_local_time_with_its_figures() -> None:
    told = TEXTS.reason(reason("ph.range", value=-4.83, low=5.5, high=9.5))
    assert told.startswith("The pH probe reads -4.83, outside 5.5 to 9.5, since 1 Jun 10:42: not believable")


def test_an_unknown_code_shows_itself_and_its_facts() -> None:
    assert TEXTS.reason(reason("never.heard", a=1.5, b="x")) == "never.heard (a=1.5 b=x)"
    assert TEXTS.reason(reason("never.heard")) == "never.heard"


def test_a_missing_fact_leaves_the_rest_readable() -> None:
    assert sentence("{a} of {b} since {since}", (("a", 2),), ROME) == "2 of ? since ?"


def test_broken_braces_are_shown_as_they_are() -> None:
    assert sentence("half {a", (("a", 2),), ROME) == "half {a"


def test_a_format_is_kept_where_it_fits_and_left_where_it_does_not() -> None:
    assert sentence("{s:.0f} s, {t:.1f}", (("s", 61.7), ("t", "long")), ROME) == "62 s, long"


@pytest.mark.parametrize(
    ("value", "name", "shown"),
    [
        (702.4, "orp_mv", "702"),
        (26.04, "temp_c", "26"),
        (3.456, "mg_l", "3.46"),
        (0.0321, "hocl_mg_l", "0.0321"),
        (7.4, "ph", "7.4"),
        (7.456, "ph", "7.46"),
        (-0.001, "x", "-0.001"),
        (-0.0, "x", "0"),
        (3, "count", "3"),
        (18000.0, "ml", "18000"),
        (float("nan"), "x", "-"),
    ],
)
def test_numbers_have_sensible_digits(value: float, name: str, shown: str) -> None:
    assert number_text(value, name) == shown


def test_moments_name_the_day_only_where_it_is_another_and_follow_summer_time() -> None:
    assert moment_text(UTC_NOW, ROME, UTC_NOW) == "10:42"
    assert moment_text(UTC_NOW - timedelta(days=1), ROME, UTC_NOW) == "31 May 10:42"
    assert moment_text(datetime(2025, 12, 31, 23, 30, tzinfo=UTC), ROME, UTC_NOW) == "1 Jan 00:30"
    assert moment_text(datetime(2025, 12, 1, 8, 42, tzinfo=UTC), ROME, UTC_NOW) == "1 Dec 2025 09:42"


def test_times_among_the_facts_become_local() -> None:
    assert sentence("until {until_utc}", (("until_utc", "2026-06-01T08:50Z"),), ROME, now=UTC_NOW) == "until 10:50"


def test_an_empty_unit_leaves_no_gap_and_a_quantity_reads_as_words() -> None:
    facts = (("quantity", "free_chlorine"), ("value", 7.4), ("unit", ""))
    assert sentence("{quantity} {value} {unit} by strips", facts, ROME) == "free chlorine 7.4 by strips"


def test_an_unknown_zone_is_utc() -> None:
    assert Texts("No/Where").reason(reason("alarm.record")).endswith("1 Jun 08:42.")


def test_a_feeder_is_summed_up_by_its_first_denial_or_its_tightest_limit() -> None:
    first = Denial(Code("a"), reason("alarm.record"), False, Code("itself"))
    wide = Limit(Code("b"), 9.0, reason("alarm.no_flow"))
    tight = Limit(Code("c"), 3.21, reason("alarm.sample_flow"))
    assert TEXTS.verdicts((wide, first, first)).startswith("held: The journal did not take")
    assert TEXTS.verdicts((wide, first, first)).endswith("(and 1 more)")
    assert TEXTS.verdicts((wide, tight)).startswith("limited to 3.21 g: The sample flow switch")
    assert TEXTS.verdicts((Permit(Code("d")),)) == TEXTS.verdicts(()) == "permitted"


def test_a_reply_uses_the_words_it_carries() -> None:
    reply = Reply(RequestId("r"), True, Code("x.y"), (("value", 3.14159),), "Entered {value}.")
    assert TEXTS.reply(reply) == "Entered 3.14."


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row.code)
def test_every_alarm_fits_a_short_message_with_all_five_parts(row: object) -> None:
    levels = len(row.rises)  # type: ignore[attr-defined]
    alarm = Alarm(row.code, 1, True, False, level=levels, since=NOW, why=reason("alarm.record"))  # type: ignore[attr-defined]
    document = TEXTS.alarm(alarm)
    text = document["text"]
    assert len(text) < 400
    for part in (row.title, "since 1 Jun 10:42", row.does, row.response, row.consequence):  # type: ignore[attr-defined]
        assert part in text
    assert document["priority"].upper() in text
    assert document["cause"].startswith("The journal")


def test_an_alarm_that_left_the_catalogue_is_still_shown() -> None:
    assert TEXTS.alarm(Alarm(Code("old.alarm"), 3))["text"] == "old.alarm"


@given(
    st.sampled_from([kind.words for kind in CORE]),
    st.dictionaries(
        st.sampled_from(["value", "feeder", "since", "count"]), st.one_of(st.floats(), st.text(), st.booleans(), st.integers())
    ),
)
def test_whatever_the_facts_a_sentence_comes_out(words: str, facts: dict[str, float | str | bool]) -> None:
    told = sentence(words, tuple(facts.items()), ROME, UTC_NOW, UTC_NOW)
    assert told
    assert "{since}" not in told


def test_in_the_hour_that_comes_twice_a_moment_says_which_of_the_two_it_is() -> None:
    """Else an alarm of that night "lasted from 02:50 to 02:10"."""
    vienna = ZoneInfo("Europe/Vienna")
    first, second = datetime(2026, 10, 25, 0, 50, tzinfo=UTC), datetime(2026, 10, 25, 1, 10, tzinfo=UTC)
    assert moment_text(first, vienna, second) == "02:50 (UTC+2)"
    assert moment_text(second, vienna, second) == "02:10 (UTC+1)"
    assert moment_text(second + timedelta(hours=1), vienna, second) == "03:10"
    assert moment_text(datetime(2026, 3, 29, 1, 10, tzinfo=UTC), vienna, second).endswith("03:10"), "an hour that is left out"
    assert moment_text(datetime(2026, 4, 4, 15, 5, tzinfo=UTC), ZoneInfo("Australia/Lord_Howe")).endswith("01:35 (UTC+10:30)")
