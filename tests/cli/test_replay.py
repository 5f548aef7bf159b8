"""`dosectl replay`: the days on record once more, under the installation's own settings and under others."""

from pathlib import Path

import pytest

from dosectl.cli.__main__ import main
from dosectl.cli.replay import Row, _trust
from dosectl.rehearsal.demo_settings import demo_settings
from dosectl.rehearsal.tally import Tally
from dosectl.settings.load import load
from tests.daemon.recorded import Recorded


@pytest.fixture(scope="module")
def config(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The settings of a pool that ran for thirty hours, with its record beside them."""
    path = tmp_path_factory.mktemp("ran") / "pool.toml"
    path.write_text(demo_settings("127.0.0.1", 1, "5"), encoding="utf-8")
    pool = Recorded(path.parent, name=load(path).journal_path.name)
    for quantity in ("free_chlorine", "ph", "alkalinity"):
        pool.loop.water_test(quantity, "drops")
    pool.pass_by(30.0)
    pool.close()
    return path


def rows_of(shown: str) -> dict[str, str]:
    table = shown.split("\nsettings ", 1)[1].splitlines()[1:]
    return {line.split("  ")[0]: line for line in table if not line.startswith((" ", "How far"))}


def fed_mg_l(row: str) -> float:
    words = row.split()
    after_target = words[words.index("mg/L") + 1 :]
    return float(after_target[after_target.index("mg/L") - 1])


def test_other_settings_stand_beside_what_was_and_what_the_own_ones_make_of_it(
    config: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    more = tmp_path / "more.toml"
    more.write_text(config.read_text(encoding="utf-8") + "\n[control]\nshare_salt = 0.075\n", encoding="utf-8")
    assert main(["replay", str(more), "--config", str(config), "--days", "1"]) == 0
    shown = capsys.readouterr().out
    assert shown.startswith("REPLAYED, nothing is fed: Quince House (invented) as recorded, 1 day from ")
    rows = rows_of(shown)
    assert list(rows) == ["as recorded", "pool.toml", "more.toml"]
    assert fed_mg_l(rows["as recorded"]) > 1.0
    assert fed_mg_l(rows["pool.toml"]) == pytest.approx(fed_mg_l(rows["as recorded"]), rel=0.25)
    assert fed_mg_l(rows["more.toml"]) > fed_mg_l(rows["pool.toml"])  # a cell of 20 g/h has little left in a day of twelve hours
    target, unit = rows["more.toml"].split()[1:3]
    assert float(target) == pytest.approx(0.075 * 50.0, abs=0.06)  # as printed; the stabiliser slowly falls
    assert unit == "mg/L"
    assert "How far to trust it: your own settings, replayed, against the record: chlorine" in shown


def test_a_typed_stabiliser_is_said_to_change_nothing(config: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    typed = tmp_path / "typed.toml"
    typed.write_text(config.read_text(encoding="utf-8").replace("stabiliser_mg_l = 50", "stabiliser_mg_l = 90"), encoding="utf-8")
    assert main(["replay", str(typed), "--config", str(config), "--days", "0.25"]) == 0
    assert "typed.toml: stabiliser_mg_l = 90 is for a pool that nobody has watched" in capsys.readouterr().out


def test_an_alarm_that_only_the_replay_has_is_told_as_no_evidence() -> None:
    def row(*codes: str) -> Row:
        tally = Tally(hours=24.0, in_band_h=24.0, free_min=2.0, free_max=3.0)
        tally.alarms.update(codes)
        return Row(tally, 2.0, 1.0)

    assert "alarms that are not on record: feed.siphon, which" in _trust(row("feed.siphon", "flow.lost"), row("flow.lost"))
    assert "alarms" not in _trust(row("flow.lost"), row("flow.lost", "feed.siphon"))


def test_signals_that_are_not_on_record_are_named(config: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    other = tmp_path / "other.toml"
    sky = '[signals.sky]\nkind = "sunlight"\ntopic = "hub/sky"\nperiod_s = 600\n\n'
    other.write_text(config.read_text(encoding="utf-8").replace("[signals.salt]", sky + "[signals.salt]"), encoding="utf-8")
    assert main(["replay", str(other), "--config", str(config), "--days", "0.25"]) == 0
    assert "other.toml: the record has no sky, which says nothing in the replay" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("words", "status", "said"),
    [
        (["--days", "0"], 2, "--days 0: accepted is from 0.25 to 60"),
        (["--days", "61"], 2, "--days 61: accepted is from 0.25 to 60"),
        (["--from-day", "soon"], 2, "--from-day soon: accepted is a date such as 2026-07-01"),
        (["--from-day", "2199-01-01"], 2, "the record ends"),
        (["--days", "30"], 1, "of the minutes from"),
        (["none.toml"], 1, "it can't be read"),
    ],
)
def test_what_can_not_be_replayed_is_refused(
    config: Path, capsys: pytest.CaptureFixture[str], words: list[str], status: int, said: str
) -> None:
    assert main(["replay", *words, "--config", str(config)]) == status
    found = capsys.readouterr()
    assert said in found.err
    assert not found.out


def test_without_a_record_it_says_to_run_the_daemon_first(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    alone = tmp_path / "pool.toml"
    alone.write_text(demo_settings("127.0.0.1", 1, "5"), encoding="utf-8")
    assert main(["replay", "--config", str(alone)]) == 1
    assert "daemon" in capsys.readouterr().err
