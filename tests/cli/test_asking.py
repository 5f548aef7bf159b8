"""What a person types is refused, or not carried, in words that say what to do."""

from pathlib import Path

import pytest

from dosectl.cli.__main__ import main

SETTINGS = Path("config/minimal.toml")


@pytest.mark.parametrize("value", ["nan", "inf"])
def test_a_value_that_is_no_number_is_refused_without_asking_anybody(value: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["test", "free_chlorine", value, "drops", "--config", str(SETTINGS)]) == 2
    assert "no number" in capsys.readouterr().err


def test_a_stop_that_no_broker_takes_says_how_to_stop_by_hand(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    away = tmp_path / "pool.toml"
    away.write_text(SETTINGS.read_text() + "\n[broker]\nport = 1\n")
    assert main(["stop", "--config", str(away)]) == 3
    said = capsys.readouterr().err
    assert "not done" in said
    assert "power" in said
