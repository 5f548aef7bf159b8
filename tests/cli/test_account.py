"""`dosectl account` and `dosectl away` out of the record of a pool that ran."""

import json
from pathlib import Path

import pytest

from dosectl.cli.__main__ import main
from dosectl.rehearsal.demo_settings import demo_settings
from dosectl.settings.load import load
from tests.daemon.recorded import Recorded


@pytest.fixture
def config(tmp_path: Path) -> Path:
    path = tmp_path / "pool.toml"
    path.write_text(demo_settings("127.0.0.1", 1, "5"))
    return path


def ran(config: Path, *, away: bool) -> None:
    pool = Recorded(config.parent, name=load(config).journal_path.name)
    for quantity in ("free_chlorine", "ph"):
        pool.loop.water_test(quantity, "drops")
    if away:
        pool.loop.ask("go_away", (("days", 3.0),))
    pool.pass_by(20.0)
    pool.close()


def test_the_page_names_its_time_and_speaks_the_language_that_is_asked_for(
    config: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    ran(config, away=True)
    assert main(["account", "--config", str(config)]) == 0
    english = capsys.readouterr().out
    assert english.splitlines()[0].startswith("Quince House (invented): ")
    assert "chlorine in its band for" in english
    assert "no alarms" in english
    assert main(["account", "--config", str(config), "--language", "de"]) == 0
    german = capsys.readouterr().out
    assert "keine Alarme" in german
    assert main(["away", "--config", str(config)]) == 0
    assert "is away since" in capsys.readouterr().out


def test_without_an_absence_it_says_what_to_do_and_looks_back_over_days(config: Path, capsys: pytest.CaptureFixture[str]) -> None:
    ran(config, away=False)
    assert main(["account", "--config", str(config)]) == 1
    assert "dosectl away" in capsys.readouterr().err
    assert main(["account", "--days", "0.5", "--json", "--config", str(config)]) == 0
    facts = json.loads(capsys.readouterr().out)
    assert facts["days"] == 0.5
    assert float(facts["fed:cell"]) > 0.0
    assert main(["account", "--days", "-1", "--config", str(config)]) == 2


def test_both_lengths_at_once_are_wrong_usage(config: Path, capsys: pytest.CaptureFixture[str]) -> None:
    ran(config, away=False)
    assert main(["away", "--days", "3", "--until", "2026-08-14", "--config", str(config)]) == 2
    assert main(["away", "--config", str(config)]) == 0
    assert "nobody is away" in capsys.readouterr().out
    assert main(["away", "--until", "soon", "--config", str(config)]) != 0
