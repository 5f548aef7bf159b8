"""`dosectl ahead` and `dosectl enough` answer from the record alone, and say what they can't."""

import json
from pathlib import Path

import pytest

from dosectl.cli.__main__ import main


def test_the_coming_days_as_a_table_and_as_json(config: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["ahead", "--days", "2", "--config", str(config)]) == 0
    shown = capsys.readouterr().out
    assert shown.count("mg/L (") == 16  # every three hours
    assert "lowest about" in shown
    assert "without guests or storms" in shown
    assert main(["ahead", "--days", "2", "--json", "--config", str(config)]) == 0
    assert len(json.loads(capsys.readouterr().out)) == 48


def test_whether_the_feeder_is_enough(config: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["enough", "--flow-h", "1", "--config", str(config)]) == 0
    shown = capsys.readouterr().out
    assert "answer: not enough" in shown
    assert "more hours of flow" in shown
    assert main(["enough", "--json", "--config", str(config)]) == 0
    assert json.loads(capsys.readouterr().out)["loss_mg_l"] > 0.5


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["ahead", "--days", "30"], "accepted is 1 to 336"),
        (["enough", "--flow-h", "30"], "accepted is more than 0 and at most 24"),
    ],
)
def test_what_can_not_be_answered_is_refused(
    config: Path, capsys: pytest.CaptureFixture[str], words: list[str], said: str
) -> None:
    assert main([*words, "--config", str(config)]) == 1
    assert said in capsys.readouterr().err
