"""`dosectl rehearse` runs each of our example files beside a simulated pool, and shows what a change would do."""

import shutil
from pathlib import Path

import pytest

from dosectl.cli.__main__ import main

CONFIG = Path(__file__).parents[2] / "config"


def rows_of(shown: str) -> dict[str, list[str]]:
    return {line.split()[0]: line.split() for line in shown.splitlines()[2:]}


@pytest.mark.parametrize("name", ["minimal.toml", "salt_and_acid.toml", "hypochlorite_and_acid.toml"])
def test_each_example_holds_a_usual_pool(name: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["rehearse", str(CONFIG / name), "--days", "1.5", "--from-day", "2026-07-01"]) == 0
    shown = capsys.readouterr().out
    assert shown.startswith("SIMULATED, nothing is fed")
    (row,) = rows_of(shown).values()
    assert float(row[1]) > 90.0
    chlorine_mg_l = float(row[row.index("mg/L") - 1])
    assert chlorine_mg_l > 1.0


def test_a_changed_setting_shows_beside_the_file_as_it_is(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    shutil.copy(CONFIG / "salt_and_acid.toml", tmp_path / "as_it_is.toml")
    text = (CONFIG / "salt_and_acid.toml").read_text(encoding="utf-8")
    (tmp_path / "more.toml").write_text(text + "\n[control]\ntarget_mg_l_min = 4.0\n", encoding="utf-8")
    words = ["rehearse", str(tmp_path / "as_it_is.toml"), str(tmp_path / "more.toml"), "--days", "2", "--from-day", "2026-07-01"]
    assert main(words) == 0
    rows = rows_of(capsys.readouterr().out)
    fed = {name: float(row[row.index("mg/L") - 1]) for name, row in rows.items()}
    assert fed["more.toml"] > fed["as_it_is.toml"] + 0.5


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["--days", "400"], "at most 120"),
        (["--days", "1e-9"], "from 0.1"),
        (["--days", "nan"], "from 0.1"),
        (["--from-day", "July"], "a date such as 2026-07-01"),
        (["--days", "1", "--from-day", "9999-12-31"], "from 1970-01-01 to 2200-12-31"),
        (["--from-day", "0001-01-01"], "from 1970-01-01 to 2200-12-31"),
        (["--seed", "-1"], "from 0"),
    ],
)
def test_what_can_not_be_run_is_refused(words: list[str], said: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["rehearse", str(CONFIG / "minimal.toml"), *words]) == 1
    assert said in capsys.readouterr().err
