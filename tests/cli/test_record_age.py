"""`dosectl ahead` and `dosectl enough` say where the record that they answer from is old."""

import json
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from dosectl.cli.__main__ import main
from dosectl.settings.load import load
from dosectl.store.entry import JournalEntry
from dosectl.store.journal import Journal
from tests.cli.conftest import Recorded


def written(config: Path, ago: timedelta) -> datetime:
    at = (datetime.now(UTC) - ago).replace(microsecond=0)
    journal = Journal.open(load(config).journal_path)
    journal.commit(JournalEntry(2, at, 2.0), durable_now=True)
    journal.close()
    return at


def as_told(verb: str, config: Path, capsys: pytest.CaptureFixture[str]) -> tuple[str, dict[str, object], str]:
    assert main([verb, "--config", str(config)]) == 0
    first = capsys.readouterr().out.splitlines()[0]
    assert main([verb, "--json", "--config", str(config)]) == 0
    printed = capsys.readouterr()
    found = json.loads(printed.out)
    return first, found[0] if isinstance(found, list) else found, printed.err


@pytest.mark.parametrize("verb", ["ahead", "enough"])
def test_an_old_record_is_said_to_be_old(config: Path, capsys: pytest.CaptureFixture[str], verb: str) -> None:
    at = written(config, timedelta(days=3))
    first, found, err = as_told(verb, config, capsys)
    assert first == f"As of {at:%Y-%m-%d %H:%M} UTC, 3.0 days ago; the daemon has not written since."
    assert err.splitlines()[0] == first
    assert (found["as_of_utc"], found["stale"]) == (at.isoformat(), True)


@pytest.mark.parametrize("verb", ["ahead", "enough"])
def test_a_record_of_minutes_ago_is_not(config: Path, capsys: pytest.CaptureFixture[str], verb: str) -> None:
    at = written(config, timedelta(minutes=2))
    first, found, err = as_told(verb, config, capsys)
    assert "not written" not in first + err
    assert (found["as_of_utc"], found["stale"]) == (at.isoformat(), False)


def test_a_simulated_pool_has_a_time_of_its_own(recorded: Recorded, capsys: pytest.CaptureFixture[str]) -> None:
    config, _ = recorded()
    first, found, _ = as_told("ahead", config, capsys)
    assert first.startswith("Assumed: ")
    assert found["stale"] is False
