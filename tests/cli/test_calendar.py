"""The reminders' calendar against the rules of RFC 5545, read as bytes and typed here anew, and read back by a calendar."""

import re
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import icalendar
import pytest

from dosectl.cli.__main__ import main
from dosectl.core.advice.reminders import CLOSE_SEASON, TEST, Reminder
from dosectl.daemon.calendar_feed import feed
from dosectl.rehearsal.demo_settings import demo_settings
from dosectl.rehearsal.loop import demo_loaded
from dosectl.settings.load import load
from tests.daemon.recorded import Recorded

NOW = datetime(2026, 7, 11, 6, 0, tzinfo=UTC)
AWKWARD = "pH, free chlorine; back\\slash and ümläute in a name that is far longer than one line of seventy-five octets may be"


@pytest.fixture
def config(tmp_path: Path) -> Path:
    path = tmp_path / "pool.toml"
    path.write_text(demo_settings("127.0.0.1", 1, "5"))
    pool = Recorded(tmp_path, name=load(path).journal_path.name)
    for quantity in ("free_chlorine", "ph"):
        pool.loop.water_test(quantity, "drops")
    pool.loop.ask("calibrated", (("probe", "ph"),))
    pool.loop.ask("refill", (("feeder", "acid"), ("container_ml", 5000.0)))
    pool.pass_by(2.0)
    pool.close()
    return path


def checked(body: bytes) -> dict[str, list[str]]:
    """Asserts what RFC 5545 asks of every stream, and gives the properties of each event by its UID."""
    assert body.endswith(b"\r\n"), "3.1: lines end with CRLF"
    assert b"\n" not in body.replace(b"\r\n", b""), "3.1: no bare LF"
    assert all(len(line) <= 75 for line in body.split(b"\r\n")), "3.1: lines are folded at 75 octets"
    lines = body.decode("utf-8").replace("\r\n ", "").replace("\r\n\t", "").split("\r\n")[:-1]
    assert lines[0] == "BEGIN:VCALENDAR"
    assert lines[-1] == "END:VCALENDAR"
    stack: list[str] = []
    own: list[str] = []
    events: dict[str, list[str]] = {}
    event: list[str] = []
    for line in lines:
        assert re.match(r"^[A-Z0-9-]+(;[A-Z0-9-]+=[^:;]*)*:", line), line
        name, _, value = line.partition(":")
        if name == "BEGIN":
            stack.append(value)
            event = [] if value == "VEVENT" else event
        elif name == "END":
            assert stack.pop() == value, "3.6: components are nested"
            if value == "VEVENT":
                (uid,) = [entry for entry in event if entry.startswith("UID:")]
                assert uid not in events, "3.8.4.7: a UID is unique"
                events[uid.removeprefix("UID:")] = event
        elif stack[-1] == "VEVENT":
            event.append(line)
        elif stack[-1] == "VCALENDAR":
            own.append(name.split(";")[0])
        elif stack[-1] == "VALARM":
            assert name.split(";")[0] in ("ACTION", "DESCRIPTION", "TRIGGER"), "3.6.6: a DISPLAY alarm has these"
    assert stack == []
    assert own.count("VERSION") == own.count("PRODID") == 1, "3.6: once each"
    for event in events.values():
        names = [entry.partition(":")[0].split(";")[0] for entry in event]
        assert names.count("UID") == names.count("DTSTAMP") == names.count("DTSTART") == 1, "3.6.1"
        assert any(re.fullmatch(r"DTSTAMP:\d{8}T\d{6}Z", entry) for entry in event), "3.8.7.2: in UTC"
        assert any(re.fullmatch(r"DTSTART;VALUE=DATE:\d{8}", entry) for entry in event), "3.3.4"
        (summary,) = [entry for entry in event if entry.startswith("SUMMARY:")]
        assert not re.search(r"(?<!\\)[,;]", summary.removeprefix("SUMMARY:")), "3.3.11: commas and semicolons are escaped"
    return events


def test_the_file_keeps_the_rules_of_the_standard_also_for_awkward_words() -> None:
    items = (
        Reminder("test-ph", date(2026, 7, 18), TEST, (("quantity", AWKWARD),)),
        Reminder("season-closes", date(2026, 10, 15), CLOSE_SEASON, every="year"),
    )
    body = feed(demo_loaded(), items, NOW, "de")
    events = checked(body)
    assert len(events) == 2
    back = icalendar.Calendar.from_ical(body)
    summaries = [str(event["summary"]) for event in back.walk("VEVENT")]
    assert summaries == [f"Von Hand testen: {AWKWARD}", "Saison vor dem Frost schließen"]
    assert any("RRULE:FREQ=YEARLY" in event for event in events.values())


def test_the_command_writes_what_is_due_and_when_and_the_same_names_again(
    config: Path, tmp_path: Path, capsysbinary: pytest.CaptureFixture[bytes]
) -> None:
    out = tmp_path / "pool.ics"
    assert main(["calendar", "--out", str(out), "--config", str(config)]) == 0
    first = checked(out.read_bytes())
    day = {uid.split("@")[0]: next(e[-8:] for e in event if e.startswith("DTSTART")) for uid, event in first.items()}
    began = datetime(2026, 7, 11, tzinfo=UTC)
    assert day["test-free_chlorine"] == f"{began + timedelta(days=7):%Y%m%d}"
    assert day["calibrate-ph"] == f"{began + timedelta(days=60):%Y%m%d}"
    assert day["calibrate-orp"] == day["test-salt"] == f"{began:%Y%m%d}", "never done: due today"
    assert day["season-closes"] == "20261015"
    assert day["season-opens"] == "20270415"
    assert main(["calendar", "--config", str(config), "--language", "de"]) == 0
    printed = capsysbinary.readouterr().out
    assert set(checked(printed)) == set(first), "a newer file moves events, it does not double them"
    assert "Von Hand testen: freies Chlor" in printed.decode().replace("\r\n ", "")


def test_a_place_where_it_can_not_be_written_is_said_and_leaves_the_old_file(
    config: Path, tmp_path: Path, capsysbinary: pytest.CaptureFixture[bytes]
) -> None:
    assert main(["calendar", "--out", str(tmp_path / "no" / "pool.ics"), "--config", str(config)]) == 1
    assert b"no" in capsysbinary.readouterr().err
