"""What is kept of a campaign tells which code each row judged, and rows from before that was noted are no reason to fail."""

from pathlib import Path

import pytest

from tests.benchmarks.campaign import __main__ as campaign
from tests.benchmarks.campaign.code import NOT_NOTED
from tests.benchmarks.campaign.report import html, text
from tests.benchmarks.campaign.runs import Result


@pytest.fixture
def kept(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setattr(campaign, "RESULTS", tmp_path)
    return tmp_path / "some.csv"


def test_a_row_tells_its_code_and_comes_back_as_it_was(kept: Path) -> None:
    rows = [Result("flow_lost", "idle", "hypo", stands_h=10.0, code="abc1234"), Result("orp_dead", "idle", "hypo")]
    campaign._write("some", rows)
    assert list(campaign._kept("some").values()) == rows


def test_a_row_of_an_older_form_is_read_and_counts_as_of_unknown_code(kept: Path) -> None:
    campaign._write("some", [Result("flow_lost", "idle", "hypo", stands_h=10.0, code="abc1234")])
    lines = [line.rsplit(",", 3)[0] for line in kept.read_text().splitlines()]
    kept.write_text("\n".join(lines) + "\n")
    (row,) = campaign._kept("some").values()
    assert row.code == NOT_NOTED
    assert row.stands_h is None


def test_the_report_tells_how_many_runs_judged_which_code_and_how_many_were_not_run() -> None:
    rows = [Result("flow_lost", "idle", "hypo", code="abc1234"), Result("orp_dead", "idle", "hypo", failures="called never")]
    for shown in (text(rows, "command", 1.0, 3), html(rows, "command", 1.0, 3)):
        assert "abc1234 in 1 runs" in shown
        assert f"{NOT_NOTED} in 1 runs" in shown
        assert "3 not run" in shown
        assert "orp_dead (idle, hypo): called never" in shown


def test_a_run_anew_of_what_is_stale_drops_rows_of_other_code(kept: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(campaign, "code_now", lambda: "new0000")
    monkeypatch.setattr(campaign, "_one", lambda job: Result(job[0], job[2], job[3], code="new0000"))
    campaign._write(
        "some", [Result("flow_lost", "idle", "hypo", code="old0000"), Result("flow_lost", "night", "hypo", code="new0000")]
    )
    campaign.main(["flow_lost", "--phase", "idle", "--phase", "night", "--pool", "hypo", "--keep", "some", "--stale"])
    assert [(row.phase, row.code) for row in campaign._kept("some").values()] == [("night", "new0000"), ("idle", "new0000")]


def test_pairs_at_another_distance_are_other_runs(kept: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(campaign, "_one", lambda job: Result("+".join(job[:2]), job[2], job[3], apart_s=job[6]))
    pair = ["flow_lost", "load_silent", "--pairs", "--pool", "hypo", "--keep", "some", "--resume"]
    campaign.main(pair)
    campaign.main([*pair, "--apart-s", "0"])
    assert [row.apart_s for row in campaign._kept("some").values()] == [1800.0, 0.0]


def test_a_second_fault_that_would_begin_after_the_end_is_refused() -> None:
    with pytest.raises(SystemExit):
        campaign.main(["flow_lost", "load_silent", "--pairs", "--apart-s", "7200", "--stands-h", "1"])
