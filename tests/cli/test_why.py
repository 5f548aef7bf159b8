"""`dosectl why` and `dosectl demo`: what is typed wrong is refused in words, and an answer of long ago says so."""

from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from dosectl.cli.__main__ import main
from dosectl.rehearsal.demo_settings import demo_settings
from dosectl.settings.load import load
from dosectl.store.read import Record
from tests.daemon.recorded import Recorded


@pytest.fixture(scope="module")
def config(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The settings of a pool that ran for two hours, with its record beside them."""
    path = tmp_path_factory.mktemp("ran") / "pool.toml"
    path.write_text(demo_settings("127.0.0.1", 1, "5"), encoding="utf-8")
    pool = Recorded(path.parent, name=load(path).journal_path.name)
    pool.pass_by(2.0)
    pool.close()
    return path


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (["--before-h", "1e300"], "--before-h 1e+300: accepted is 0 to"),
        (["--before-h", "nan"], "--before-h nan: accepted is 0 to"),
        (["--before-h", "-3"], "--before-h -3: accepted is 0 to"),
        (["0001-01-01T00:00"], "TIME '0001-01-01T00:00': accepted is such as"),
        (["9999-12-31T23:59"], "TIME '9999-12-31T23:59': accepted is such as"),
        (["yesterday"], "TIME 'yesterday': accepted is such as"),
    ],
)
def test_a_time_that_can_not_be_is_refused(config: Path, words: list[str], told: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["why", *words, "--config", str(config)]) == 2
    printed = capsys.readouterr()
    assert told in printed.err
    assert printed.out == ""


def test_within_the_record_nothing_is_said_of_its_end(config: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A decision may be half an hour old in a pool that runs: the daemon was told to have been dead then."""
    with Record(load(config).journal_path) as record:
        begin = record.why(datetime(2100, 1, 1, tzinfo=UTC))[0].as_of
    for minutes in range(0, 110, 7):
        at = (begin - timedelta(minutes=minutes)).isoformat()
        assert main(["why", at, "--config", str(config)]) == 0
        assert "the record ends" not in capsys.readouterr().out


def test_an_answer_of_before_the_time_that_was_asked_for_says_so(config: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["why", "2090-01-01T00:00", "--config", str(config)]) == 0
    assert capsys.readouterr().out.startswith("the record ends at ")
    assert main(["why", "--config", str(config)]) == 0
    assert "the record ends" not in capsys.readouterr().out


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (["--hours", "nan"], "--hours nan: accepted is more than 0"),
        (["--hours", "0"], "--hours 0: accepted is more than 0"),
        (["--hours", "-1"], "--hours -1: accepted is more than 0"),
        (["--speed", "0"], "--speed 0.0: more than 0 is needed"),
    ],
)
def test_a_demo_of_no_hours_is_refused(words: list[str], told: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["demo", *words]) == 2
    assert told in capsys.readouterr().err


def test_a_demo_without_its_broker_is_told_in_words(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["demo", "--broker", "127.0.0.1:1", "--plain", "--hours", "1"]) != 0
    printed = capsys.readouterr()
    assert "dosectl demo: 127.0.0.1:1: " in printed.err
    assert "Traceback" not in printed.err
