"""`dosectl leave` reads the record, and says what can't be known where the daemon is silent."""

import json
from pathlib import Path

import pytest

from dosectl.cli.__main__ import main


def test_the_answer_lists_every_condition_and_what_a_silent_daemon_leaves_unknown(
    config: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["leave", "--days", "14", "--json", "--config", str(config)]) == 4, "not ready, for scripts"
    answer = json.loads(capsys.readouterr().out)
    states = {item["name"]: item["state"] for item in answer["conditions"]}
    assert answer["answer"] == "not ready"
    assert states["probes"] == "can't know"
    assert states["calls"] == "not ready"


def test_an_absence_that_nobody_can_answer_for_is_refused(config: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["leave", "--days", "400", "--config", str(config)]) == 2
    assert "--days 400: accepted is more than 0 and at most 120" in capsys.readouterr().err


def test_a_test_call_without_anybody_to_call_is_refused(config: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["leave", "--test-calls", "--config", str(config)]) == 1
    assert "[notify]" in capsys.readouterr().err
