"""The calendar file that the daemon keeps: whole or not at all, and never a reason to stop."""

from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import icalendar
import pytest

from dosectl.daemon.reminding import FAULT, Reminding
from dosectl.rehearsal.loop import demo_loaded
from dosectl.settings.load import CalendarSettings, Loaded
from tests.advice.test_absence import STATE

NOW = datetime(2026, 7, 11, 6, 0, tzinfo=UTC)
DURABLE = STATE.durable


def loaded(path: Path | None, language: str = "en") -> Loaded:
    return replace(demo_loaded(), calendar=None if path is None else CalendarSettings(path, language))


def renewed(reminding: Reminding) -> None:
    reminding.renew(DURABLE, NOW)
    reminding.stop()


def test_the_file_is_a_calendar_in_the_language_and_nothing_else_is_left_beside_it(tmp_path: Path) -> None:
    path = tmp_path / "pool.ics"
    reminding = Reminding(loaded(path, "de"))
    renewed(reminding)
    summaries = [str(event["summary"]) for event in icalendar.Calendar.from_ical(path.read_bytes()).walk("VEVENT")]
    assert "Saison vor dem Frost schließen" in summaries
    assert [item.name for item in tmp_path.iterdir()] == ["pool.ics"]
    assert reminding.faults() == ()


def test_what_can_not_be_written_is_told_until_it_can_and_the_old_file_stays(tmp_path: Path) -> None:
    folder = tmp_path / "share"
    reminding = Reminding(loaded(folder / "pool.ics"))
    renewed(reminding)
    assert reminding.faults() == (FAULT,)
    folder.mkdir()
    renewed(reminding)
    assert reminding.faults() == ()
    before = (folder / "pool.ics").read_bytes()
    (folder / ".pool.ics.part").mkdir()
    renewed(reminding)
    assert reminding.faults() == (FAULT,)
    assert (folder / "pool.ics").read_bytes() == before


def test_a_defect_in_making_it_is_told_like_any_other(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("dosectl.daemon.reminding.reminders", lambda _view: 1 / 0)
    reminding = Reminding(loaded(tmp_path / "pool.ics"))
    renewed(reminding)
    assert reminding.faults() == (FAULT,)


def test_without_a_file_in_the_settings_nothing_is_done(tmp_path: Path) -> None:
    reminding = Reminding(loaded(None))
    renewed(reminding)
    assert (reminding.faults(), list(tmp_path.iterdir())) == ((), [])
