"""`dosectl ahead` feeds no more than the containers hold by the record, and says when they end."""

import json
from datetime import datetime
from zoneinfo import ZoneInfo

import pytest

from dosectl.cli.__main__ import main
from dosectl.model.feeds import FeederId, Substance
from tests.cli.conftest import Recorded


def told(moment: datetime) -> str:
    return f"{moment.astimezone(ZoneInfo('Europe/Paris')):%a %d %b %H:%M}"


def test_a_container_that_ends_is_foretold_to_end_and_feeds_nothing_from_then_on(
    recorded: Recorded, capsys: pytest.CaptureFixture[str]
) -> None:
    config, loop = recorded(hypochlorite=True, holds_ml={"hypo": 6000.0})
    feeder = loop.plan.site.feeder(FeederId("hypo"))
    a_mg_l_ml = feeder.ml_per_g * loop.plan.site.pool.volume_m3
    assert main(["ahead", "--days", "9", "--json", "--config", str(config)]) == 0
    printed = capsys.readouterr()
    hours = json.loads(printed.out)
    fed_ml = a_mg_l_ml * sum(hour["fed_mg_l"] for hour in hours)
    assert 1500.0 < fed_ml <= 4500.0
    ends = next(number for number, hour in enumerate(hours) if hour["empty"] == ["hypo"])
    assert sum(hour["fed_mg_l"] for hour in hours[ends + 1 :]) == 0.0
    assert all(hour["empty"] == ["hypo"] for hour in hours[ends:])
    head = f"The container of hypo ends on {told(datetime.fromisoformat(hours[ends]['utc']))} by the record (about "
    assert printed.err.startswith(head)
    assert main(["ahead", "--days", "9", "--config", str(config)]) == 0
    assert capsys.readouterr().out.startswith(head)
    barred = None
    for number in range(len(hours)):
        for _ in loop.run(1.0):
            pass
        if barred is None and any(bar.feeder == "hypo" for bar in loop.state.durable.barred):
            barred = number
    assert barred is not None
    assert abs(barred - ends) <= 24
    truth = loop.plant.truth().free_chlorine_mg_l
    assert truth < 0.8
    assert hours[-1]["free_chlorine_mg_l"] < 0.8


def test_what_lasts_is_not_spoken_of(recorded: Recorded, capsys: pytest.CaptureFixture[str]) -> None:
    config, _ = recorded(hypochlorite=True, holds_ml={"hypo": 18000.0, "acid": 4500.0})
    assert main(["ahead", "--days", "3", "--config", str(config)]) == 0
    shown = capsys.readouterr().out
    assert shown.startswith("Assumed: ")
    assert "container" not in shown


def test_a_container_nobody_entered_is_said_to_be_taken_as_full(recorded: Recorded, capsys: pytest.CaptureFixture[str]) -> None:
    config, _ = recorded(hypochlorite=True, holds_ml={"acid": 4500.0})
    assert main(["ahead", "--days", "3", "--config", str(config)]) == 0
    last = capsys.readouterr().out.splitlines()[-1]
    assert last.endswith("; what the container of hypo holds was never entered, so it is taken to last")


def test_from_the_end_of_the_acid_on_the_ph_rises(recorded: Recorded, capsys: pytest.CaptureFixture[str]) -> None:
    config, loop = recorded(holds_ml={"acid": 1600.0})
    assert dict(loop.state.durable.standing.daily_use_mg_l)[Substance.ACID]
    assert main(["ahead", "--days", "14", "--json", "--config", str(config)]) == 0
    printed = capsys.readouterr()
    hours = json.loads(printed.out)
    ends = next(number for number, hour in enumerate(hours) if hour["empty"] == ["acid"])
    assert 0 < ends < 200
    after = [hour["ph"] for hour in hours[ends + 1 :]]
    assert after == sorted(after)
    assert after[-1] < 8.8  # where water of this alkalinity ends that is left with air, 8.4 to 8.7 from memory
    assert after[-1] > max(hour["ph"] for hour in hours[:ends]) + 0.1
    assert printed.err.startswith(
        f"The container of acid ends on {told(datetime.fromisoformat(hours[ends]['utc']))} by the record"
    )
    assert sum(hour["fed_mg_l"] for hour in hours[ends:]) > 1.0  # the cell goes on
