"""What `dosectl away` makes of a date that is none."""

from pathlib import Path

import pytest

from dosectl.cli.__main__ import main


@pytest.mark.parametrize("until", ["2026-02-30", "2026-13-01", "soon"])
def test_a_date_that_is_none_is_wrong_usage(config: Path, capsys: pytest.CaptureFixture[str], until: str) -> None:
    assert main(["away", "--until", until, "--config", str(config)]) == 2
    assert capsys.readouterr().err.strip()
