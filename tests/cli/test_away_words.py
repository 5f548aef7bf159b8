"""What the verbs of an absence make of words that can't be meant: one error, which names the option and says what to type."""

from datetime import UTC, datetime
from pathlib import Path

import pytest

from dosectl.cli.__main__ import main
from dosectl.cli.spans import WrongSpan, moment_ahead

NOW = datetime(2026, 10, 1, 8, 0, tzinfo=UTC)


def said(words: list[str], config: Path, capsys: pytest.CaptureFixture[str], status: int = 2) -> str:
    assert main([*words, "--config", str(config)]) == status
    (line,) = capsys.readouterr().err.strip().splitlines()
    return line


@pytest.mark.parametrize("until", ["2026-02-30", "2026-13-01", "soon", "", "2020-01-01", "0001-01-01", "9999-12-31T23:59"])
def test_a_date_that_can_not_be_meant_is_one_error_that_names_it(
    config: Path, capsys: pytest.CaptureFixture[str], until: str
) -> None:
    line = said(["away", "--until", until], config, capsys)
    assert line.startswith(f"--until {until}")
    assert "Nothing was changed." in line


@pytest.mark.parametrize("verb", ["away", "leave", "account"])
@pytest.mark.parametrize("days", ["-1", "0", "nan", "inf", "5000"])
def test_days_that_can_not_be_meant_are_one_error_that_names_them(
    config: Path, capsys: pytest.CaptureFixture[str], verb: str, days: str
) -> None:
    line = said([verb, "--days", days], config, capsys)
    assert line.startswith(f"--days {days}: accepted is more than 0 and at most")
    assert "such as --days" in line


def test_both_or_neither_of_days_and_until_are_told_apart(config: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert "both were given" in said(["away", "--days", "3", "--until", "2026-12-01"], config, capsys)


def test_a_time_without_its_zone_is_the_pools_and_a_date_is_its_evening() -> None:
    assert moment_ahead("2026-10-14T18:00", "Europe/Rome", NOW) == datetime(2026, 10, 14, 16, 0, tzinfo=UTC)
    assert moment_ahead("2026-10-14", "Europe/Rome", NOW) == datetime(2026, 10, 14, 18, 0, tzinfo=UTC)
    assert moment_ahead("2026-10-26", "Europe/Rome", NOW) == datetime(2026, 10, 26, 19, 0, tzinfo=UTC), "after the clock's change"
    assert moment_ahead("2026-10-14T18:00-05:00", "Europe/Rome", NOW) == datetime(2026, 10, 14, 23, 0, tzinfo=UTC)
    with pytest.raises(WrongSpan, match=r"--until x: .*Europe/Rome"):
        moment_ahead("x", "Europe/Rome", NOW)


@pytest.mark.parametrize("path", ["no/such/folder/pool.ics", "."])
def test_a_calendar_that_can_not_be_written_names_the_path_typed_and_leaves_nothing(
    config: Path, capsys: pytest.CaptureFixture[str], tmp_path: Path, path: str
) -> None:
    before = sorted(item.name for item in tmp_path.parent.iterdir())
    line = said(["calendar", "--out", str(tmp_path / path)], config, capsys, status=1)
    assert line.startswith(f"--out {tmp_path / path}: can't be written (")
    assert ".part" not in line
    assert sorted(item.name for item in tmp_path.parent.iterdir()) == before


def test_an_occurrence_without_its_alarm_or_none_at_all_is_one_error(config: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert "of which alarm" in said(["answer", "--occurrence", "7"], config, capsys)
    assert "accepted is 1 and more" in said(["answer", "feed.siphon", "--occurrence", "0"], config, capsys)
