"""`dosectl enough`: what it advises helps, and what it prints can be read."""

import json
from dataclasses import replace
from datetime import UTC, datetime
from itertools import pairwise
from zoneinfo import ZoneInfo

import pytest

from dosectl.cli.__main__ import main
from dosectl.cli.enough import hours_line, rest_line, what_helps
from dosectl.core.advice.enough import Enough, Rest, enough
from dosectl.core.advice.feeding import Allowed
from dosectl.core.control.habit import FlowHabit
from tests.cli.conftest import Recorded

REST = Rest(datetime(2026, 7, 15, tzinfo=UTC), 0, 3.0, 0.0, 0.0)
NOW = datetime(2026, 7, 20, 12, tzinfo=UTC)
FOUND = Enough(2.9, 29.0, 24.0, 5.7, 5.4, 6.0, 20.4, 19.0, 22.0, REST, 2.2, 6.8, 5.0)


def test_too_few_hours_are_not_called_the_daily_limit() -> None:
    """Two hours of flow bring 0.7 of the 3 mg/L lost: the day's 5 mg/L are not what binds, though the loss may be 5.4."""
    few = replace(FOUND, flow_h=2.0, gives_mg_l=0.7, gives_low_mg_l=0.6, loss_mg_l=3.0, loss_high_mg_l=5.4, hours_needed=9.1)
    helps = " ".join(what_helps(few))
    assert "what binds" not in helps
    assert "more hours of flow" in helps
    assert "what binds: the daily limit" in " ".join(what_helps(replace(few, loss_mg_l=5.2, hours_needed=15.0)))


def test_without_a_chlorine_feeder_no_day_is_long_enough_and_the_json_is_valid(
    recorded: Recorded, capsys: pytest.CaptureFixture[str]
) -> None:
    config, _ = recorded()
    tables = config.read_text().split("\n\n")
    config.write_text("\n\n".join(table for table in tables if "cell" not in table))
    status = main(["enough", "--json", "--config", str(config)])
    printed = capsys.readouterr()
    assert status == 0, printed.err
    found = json.loads(printed.out, parse_constant=lambda name: pytest.fail(f"{name} is no JSON"))
    assert found["hours_needed"] is None
    assert found["gives_mg_l"] == 0.0
    assert main(["enough", "--config", str(config)]) == 0
    shown = capsys.readouterr().out
    assert "no day is long enough for the loss: nothing here feeds chlorine" in shown
    assert "inf" not in shown
    assert "more hours of flow" not in shown


def test_a_cell_too_small_for_any_day_is_not_told_to_run_longer() -> None:
    small = replace(FOUND, gives_mg_l=4.4, gives_low_mg_l=4.0, gives_high_mg_l=5.0, hours_needed=31.1, limit_mg_l=20.0)
    assert "31.1 h" in hours_line(small)
    assert "no day is long enough" in hours_line(small)
    helps = " ".join(what_helps(small))
    assert "hours of flow" not in helps
    assert "a larger feeder" in helps
    assert "no day is long enough: nothing here feeds chlorine" not in hours_line(small)
    assert "more hours of flow" in " ".join(what_helps(replace(small, flow_h=8.0, hours_needed=12.0)))


def test_where_the_daily_limit_binds_it_is_named_and_no_longer_day_nor_larger_feeder() -> None:
    helps = " ".join(what_helps(FOUND))
    assert "5 mg/L" in helps
    assert "guards.mass.day" in helps
    assert "hours of flow" not in helps
    assert "larger feeder" not in helps
    assert "a cover" in helps
    assert "larger feeder" in " ".join(what_helps(replace(FOUND, gives_low_mg_l=4.0)))
    both = " ".join(what_helps(replace(FOUND, flow_h=5.0, gives_mg_l=4.3, gives_low_mg_l=4.0)))
    assert "guards.mass.day" in both
    assert "more hours of flow" in both


@pytest.mark.parametrize(
    ("flow_h", "shown"), [("0.4", "in 0.4 h of flow"), ("12.38", "in 12.4 h of flow"), ("12", "in 12 h of flow")]
)
def test_hours_are_shown_as_they_were_typed(
    recorded: Recorded, capsys: pytest.CaptureFixture[str], flow_h: str, shown: str
) -> None:
    config, _ = recorded()
    assert main(["enough", "--flow-h", flow_h, "--config", str(config)]) == 0
    assert shown in capsys.readouterr().out


@pytest.mark.parametrize(
    ("flow_h", "begin", "end"), [(0.4, "12:12", "11:48"), (12.38, "18:11", "05:48"), (12.0, "18:00", "06:00")]
)
def test_the_rest_lies_about_the_hours_that_were_typed(recorded: Recorded, flow_h: float, begin: str, end: str) -> None:
    _, loop = recorded()
    by_day = FlowHabit(tuple(1.0 if 6 <= hour < 18 else 0.0 for hour in range(24)))
    plan = loop.plan
    found = enough(*(plan.site, plan.estimate, plan.control, loop.state.durable.estimate, by_day, NOW, Allowed()), flow_h=flow_h)
    assert found.rest.hours == pytest.approx(24.0 - flow_h)
    assert f"{begin} to {end}" in rest_line(found, ZoneInfo("UTC"))


def test_a_quarter_of_an_hour_more_never_takes_more(recorded: Recorded) -> None:
    _, loop = recorded()
    by_day = FlowHabit(tuple(1.0 if 6 <= hour < 18 else 0.0 for hour in range(24)))
    plan = loop.plan
    found = [
        enough(
            *(plan.site, plan.estimate, plan.control, loop.state.durable.estimate, by_day, NOW, Allowed()), flow_h=quarter / 4.0
        )
        for quarter in range(2, 96, 2)
    ]
    goes = [item.rest.goes_mg_l for item in found]
    assert all(later <= earlier + 1e-9 for earlier, later in pairwise(goes))
    assert max(earlier - later for earlier, later in pairwise(goes)) < 0.3


@pytest.mark.parametrize("words", [["--temp-c", "80"], ["--temp-c", "nan"], ["--flow-h", "30"], ["--flow-h", "0"]])
def test_wrong_words_are_wrong_usage(recorded: Recorded, capsys: pytest.CaptureFixture[str], words: list[str]) -> None:
    config, _ = recorded()
    assert main(["enough", *words, "--config", str(config)]) == 2
    refused = capsys.readouterr().err
    assert refused.startswith(f"{words[0]} {words[1]}: accepted is ")
