"""`dosectl rehearse` runs each of our example files beside a simulated pool, and shows what a change would do."""

import re
import shutil
from dataclasses import replace
from pathlib import Path

import pytest

from dosectl.cli.__main__ import main
from dosectl.cli.account import kept
from dosectl.core.control import FlowHabit
from dosectl.daemon.parts import CODECS
from dosectl.settings.load import load
from dosectl.store.entry import JournalEntry
from dosectl.store.journal import Journal

CONFIG = Path(__file__).parents[2] / "config"


HEAD_LINES = 4


def rows_of(shown: str) -> dict[str, list[str]]:
    return {line.split()[0]: line.split() for line in shown.splitlines()[HEAD_LINES:] if not line.startswith(" ")}


def in_band_percent(row: list[str]) -> float:
    return float(row[row.index("%") - 1])


def fed_mg_l(row: list[str]) -> float:
    after_target = row[row.index("mg/L") + 1 :]
    return float(after_target[after_target.index("mg/L") - 1])


def changed(tmp_path: Path, name: str, example: str, *changes: tuple[str, str], more: str = "") -> str:
    text = (CONFIG / example).read_text(encoding="utf-8")
    for pattern, new in changes:
        text, found = re.subn(pattern, new, text)
        assert found == 1, pattern
    (tmp_path / name).write_text(text + more, encoding="utf-8")
    return str(tmp_path / name)


@pytest.mark.parametrize("name", ["minimal.toml", "salt_and_acid.toml", "hypochlorite_and_acid.toml"])
def test_each_example_holds_a_usual_pool(name: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["rehearse", str(CONFIG / name), "--days", "1.5", "--from-day", "2026-07-01"]) == 0
    shown = capsys.readouterr().out
    assert shown.startswith("SIMULATED, nothing is fed")
    (row,) = rows_of(shown).values()
    assert in_band_percent(row) > 90.0
    assert fed_mg_l(row) > 1.0


def test_a_changed_setting_shows_beside_the_file_as_it_is(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    shutil.copy(CONFIG / "salt_and_acid.toml", tmp_path / "as_it_is.toml")
    text = (CONFIG / "salt_and_acid.toml").read_text(encoding="utf-8")
    (tmp_path / "more.toml").write_text(text + "\n[control]\ntarget_mg_l_min = 4.0\n", encoding="utf-8")
    words = ["rehearse", str(tmp_path / "as_it_is.toml"), str(tmp_path / "more.toml"), "--days", "2", "--from-day", "2026-07-01"]
    assert main(words) == 0
    fed = {name: fed_mg_l(row) for name, row in rows_of(capsys.readouterr().out).items()}
    assert fed["more.toml"] > fed["as_it_is.toml"] + 0.5


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["--days", "400"], "at most 120"),
        (["--days", "1e-9"], "from 0.1"),
        (["--days", "nan"], "from 0.1"),
        (["--from-day", "July"], "a date such as 2026-07-01"),
        (["--from-day", "2026-07-01T23:00"], "a date such as 2026-07-01, without a time of day"),
        (["--days", "1", "--from-day", "9999-12-31"], "from 1970-01-01 to 2200-12-31"),
        (["--from-day", "0001-01-01"], "from 1970-01-01 to 2200-12-31"),
        (["--seed", "-1"], "from 0"),
        (["--pump-hours", "8-20"], "HH:MM-HH:MM"),
        (["--pump-hours", ""], "HH:MM-HH:MM"),
        (["--pump-hours", "08:00-12:00;15:00-21:00"], "HH:MM-HH:MM"),
        (["--pump-hours", "08:00-24:30"], "24:30 is no time of day"),
        (["--pump-hours", "08:75-12:00"], "08:75 is no time of day"),
        (["--pump-hours", "08:00-08:00"], "no length"),
        (["--pump-hours", "24:00-06:00"], "no length"),
        (["--pump-hours", "08:00-12:00,11:00-14:00"], "overlap"),
        (["--pump-hours", "22:00-06:00,05:00-07:00"], "overlap"),
    ],
)
def test_what_can_not_be_run_is_refused(words: list[str], said: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["rehearse", str(CONFIG / "minimal.toml"), *words]) == 2
    assert said in capsys.readouterr().err


def test_files_of_one_name_have_rows_that_can_be_told_apart(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    files = [tmp_path / "now" / "pool.toml", tmp_path / "then" / "pool.toml"]
    for file in files:
        file.parent.mkdir()
        shutil.copy(CONFIG / "minimal.toml", file)
    assert main(["rehearse", *map(str, files), "--days", "0.1", "--from-day", "2026-07-01"]) == 0
    shown = capsys.readouterr().out.splitlines()
    for number, file in enumerate(files, 1):
        assert f"{number} is {file}" in shown
        assert sum(line.startswith(f"{number} pool.toml ") for line in shown) == 1


def test_in_band_is_judged_by_the_target_of_each_files_own_settings(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    stabiliser = ("stabiliser_mg_l = 30", "stabiliser_mg_l = 60")
    as_it_is = changed(tmp_path, "as_it_is.toml", "hypochlorite_and_acid.toml", stabiliser)
    more = "\n[control]\nshare_other = 0.05\n"
    lower = changed(tmp_path, "lower.toml", "hypochlorite_and_acid.toml", stabiliser, more=more)
    assert main(["rehearse", as_it_is, lower, "--days", "4", "--from-day", "2026-07-01"]) == 0
    shown = capsys.readouterr().out
    rows = rows_of(shown)
    assert "each file's own settings" in shown
    assert " ".join(rows["as_it_is.toml"][1:5]) == "4.4 to 4.5 mg/L"  # 7.5 % of a stabiliser that falls from 60
    assert " ".join(rows["lower.toml"][1:5]) == "2.9 to 3.0 mg/L"
    assert in_band_percent(rows["as_it_is.toml"]) > 90.0
    assert in_band_percent(rows["lower.toml"]) > 80.0  # it starts at half above its target, where the other one is at home


def test_the_pumps_hours_are_told_and_run(capsys: pytest.CaptureFixture[str]) -> None:
    words = ["rehearse", str(CONFIG / "minimal.toml"), "--days", "1", "--from-day", "2026-07-01"]
    assert main([*words, "--pump-hours", "22:30-02:00,13:00-15:30"]) == 0
    shown = capsys.readouterr().out
    assert "pump: 13:00 to 15:30, 22:30 to 02:00 (as typed)" in shown
    assert "6.0 h of flow" in shown


def test_without_a_record_the_hours_are_assumed_and_said_to_be(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["rehearse", str(CONFIG / "minimal.toml"), "--days", "0.1", "--from-day", "2026-07-01"]) == 0
    assert "pump: 08:00 to 20:00 (assumed" in capsys.readouterr().out


def test_hours_in_which_guards_held_chlorine_back_are_told_by_the_guards_name(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    hour = "\n[guards.mass.hour]\nchlorine_mg_l = 0.4\n"
    tight = changed(
        tmp_path, "tight.toml", "hypochlorite_and_acid.toml", ("stabiliser_mg_l = 30", "stabiliser_mg_l = 5"), more=hour
    )
    assert main(["rehearse", tight, str(CONFIG / "minimal.toml"), "--days", "2", "--from-day", "2026-07-01"]) == 0
    first, second = (line for line in capsys.readouterr().out.splitlines() if "held chlorine back" in line)
    assert re.search(r"guards held chlorine back in [1-9][0-9.]* of 24\.\d h of flow: .*mass\.hour [1-9]", first)
    assert "no guard held chlorine back in 24" in second


def test_a_pool_that_takes_much_has_the_history_of_one(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    took: list[float] = []
    for stabiliser in ("5", "60"):
        change = ("stabiliser_mg_l = 30", f"stabiliser_mg_l = {stabiliser}")
        file = changed(tmp_path, "pool.toml", "hypochlorite_and_acid.toml", change)
        assert main(["rehearse", file, "--days", "2", "--from-day", "2026-07-01"]) == 0
        shown = capsys.readouterr().out
        found = re.search(r"the fortnight before took ([0-9.]+) mg/L", shown)
        assert found is not None
        took.append(float(found[1]))
        (row,) = rows_of(shown).values()
        assert "feed.learned_use" not in row
        assert fed_mg_l(row) / 2.0 == pytest.approx(took[-1], rel=0.35)  # two days of another weather beside a fortnight
    assert took[0] > 1.5 * took[1]


def test_the_stabiliser_stays_that_of_the_pool(capsys: pytest.CaptureFixture[str]) -> None:
    words = ["--days", "15", "--from-day", "2026-07-01"]
    assert main(["rehearse", str(CONFIG / "hypochlorite_and_acid.toml"), *words]) == 0
    found = re.search(r"by hand: (.*); stabiliser (\d+) to (\d+) mg/L, topped up only towards the 30", capsys.readouterr().out)
    assert found is not None
    assert "stabiliser" not in found[1]
    assert int(found[2]) >= 25
    assert int(found[3]) == 30


def test_the_hours_that_are_learnt_on_record_are_taken(config: Path, capsys: pytest.CaptureFixture[str]) -> None:
    words = ["rehearse", str(config), "--days", "0.1", "--from-day", "2026-07-01"]
    assert main(words) == 0
    assert "pump: 08:00 to 20:00 (assumed" in capsys.readouterr().out  # nothing is learnt on it yet
    loaded = load(config)
    durable, utc = kept(loaded)
    learnt = replace(durable, habit=FlowHabit(tuple(0.9 if hour in (5, 6, 7, 16, 17) else 0.1 for hour in range(24))))
    journal = Journal.open(loaded.journal_path)
    parts = tuple((name, CODECS[name].encode(value)) for name, value in learnt.parts())
    journal.commit(JournalEntry(2, utc, 2.0, parts=parts), durable_now=True)
    journal.close()
    assert main(words) == 0
    assert "pump: 07:00 to 10:00, 18:00 to 20:00 (whole hours, as learnt on record)" in capsys.readouterr().out
    assert main([*words, "--pump-hours", "09:00-11:00"]) == 0
    assert "pump: 09:00 to 11:00 (as typed)" in capsys.readouterr().out


def test_a_rehearsal_begins_in_the_high_summer_of_its_place(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    south = changed(tmp_path, "south.toml", "salt_and_acid.toml", (r"(?m)^latitude_deg = .*$", "latitude_deg = -33.9"))
    for name, month in ((south, "-01-01"), (str(CONFIG / "salt_and_acid.toml"), "-07-01")):
        assert main(["rehearse", name, "--days", "0.1"]) == 0
        assert month in capsys.readouterr().out.splitlines()[0]
