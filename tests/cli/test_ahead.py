"""`dosectl ahead` and `dosectl enough` answer from the record alone, and say what they can't."""

import json
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from typing import Any

import pytest

from dosectl.cli.__main__ import main
from dosectl.cli.ahead import allowed_by, sky_line
from dosectl.core.advice.feeding import feeding
from dosectl.model.feeds import Substance
from dosectl.settings.load import load
from tests.cli.conftest import Recorded


def test_the_coming_days_as_a_table_and_as_json(config: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["ahead", "--days", "2", "--config", str(config)]) == 0
    shown = capsys.readouterr().out
    assert shown.count("mg/L (") == 16  # every three hours
    assert "lowest about" in shown
    assert "without guests or storms" in shown
    assert main(["ahead", "--days", "2", "--json", "--config", str(config)]) == 0
    assert len(json.loads(capsys.readouterr().out)) == 48


def test_whether_the_feeder_is_enough(config: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["enough", "--flow-h", "1", "--config", str(config)]) == 0
    shown = capsys.readouterr().out
    assert "answer: not enough, the chlorine does not last" in shown
    assert "the chlorine does not last through the rest of the pump" in shown
    assert "less than the lower edge of its band" in shown
    assert "let the pump run by day too" in shown
    assert "more hours of flow" in shown
    assert main(["enough", "--flow-h", "24", "--config", str(config)]) == 0
    assert "water flows all day" in capsys.readouterr().out
    assert main(["enough", "--json", "--config", str(config)]) == 0
    found = json.loads(capsys.readouterr().out)
    assert found["loss_mg_l"] > 0.5
    assert (found["held"], found["caveat"]) == ([], None)


@pytest.mark.parametrize("days", ["inf", "nan", "0.01", "0", "-1", "30", "1e300"])
def test_days_that_can_not_be_foretold_are_refused_by_the_name_that_was_typed(
    config: Path, capsys: pytest.CaptureFixture[str], days: str
) -> None:
    assert main(["ahead", f"--days={days}", "--config", str(config)]) == 2
    refused = capsys.readouterr().err
    assert refused.startswith(f"--days {float(days):g}: accepted is 0.05 (an hour) to 14")
    assert refused.count("\n") == 1


@pytest.mark.parametrize(("days", "hours"), [("0.05", 1), ("14", 336)])
def test_the_ends_of_what_is_accepted_are_foretold(
    config: Path, capsys: pytest.CaptureFixture[str], days: str, hours: int
) -> None:
    assert main(["ahead", "--days", days, "--json", "--config", str(config)]) == 0
    assert len(json.loads(capsys.readouterr().out)) == hours


EMPTY = {"fault": "chlorine_container_empty", "hypochlorite": True}
BARRED = [
    ({"request": "stop"}, "Nothing is fed as things stand", "stopped by rehearsal"),
    ({"request": "close_season"}, "Nothing is fed as things stand", "season was closed"),
    ({"fault": "chlorine_feeder_dead"}, "No chlorine is fed as things stand", "did not run when it was asked on"),
    (
        {"fault": "chlorine_container_empty", "hypochlorite": True},
        "No chlorine is fed as things stand",
        "container of hypo is empty",
    ),
]


@pytest.mark.parametrize(("how", "said", "why"), BARRED)
def test_what_is_barred_is_not_foretold_to_be_fed_and_the_first_line_says_why(
    recorded: Recorded, capsys: pytest.CaptureFixture[str], how: dict[str, Any], said: str, why: str
) -> None:
    config, loop = recorded(**how)
    assert main(["ahead", "--days", "2", "--config", str(config)]) == 0
    shown = capsys.readouterr().out.splitlines()
    assert shown[0].startswith(said)
    assert why in shown[0]
    assert "0.0 mg/L of chlorine in all" in shown[-1]
    assert main(["ahead", "--days", "2", "--json", "--config", str(config)]) == 0
    printed = capsys.readouterr()
    hours = json.loads(printed.out)
    assert said in printed.err
    assert sum(hour["fed_mg_l"] for hour in hours) == 0.0
    assert main(["enough", "--config", str(config)]) == 0
    shown = capsys.readouterr().out.splitlines()
    assert said in shown[0]
    answer = next(line for line in shown if line.startswith("answer: "))
    assert "with all chlorine feeders mended and free, which they are not now" in answer
    assert main(["enough", "--json", "--config", str(config)]) == 0
    found = json.loads(capsys.readouterr().out)
    assert answer.startswith(f"answer: {found['answer']}, {found['caveat']}")
    assert found["held"] == [shown[0]]
    assert main(["enough", "--flow-h", "1", "--config", str(config)]) == 0
    assert "answer: not enough, even with all chlorine feeders mended" in capsys.readouterr().out
    for _ in loop.run(47.0):
        pass
    truth = loop.plant.truth().free_chlorine_mg_l
    assert truth < 0.8
    assert hours[-1]["low_mg_l"] < truth + 0.3
    assert hours[-1]["free_chlorine_mg_l"] < 0.8


def test_without_a_reading_no_more_than_the_fall_back_is_foretold(recorded: Recorded, capsys: pytest.CaptureFixture[str]) -> None:
    config, loop = recorded(fault="orp_dead")
    rate = loop.state.durable.barred[0].rate_mg_l_day
    assert rate == pytest.approx(0.6 * 2.4)
    assert main(["ahead", "--days", "3", "--json", "--config", str(config)]) == 0
    printed = capsys.readouterr()
    assert "At most 1.4 mg/L of chlorine a day are fed as things stand" in printed.err
    fed = [hour["fed_mg_l"] for hour in json.loads(printed.out)]
    assert sum(fed) == pytest.approx(3 * rate, rel=0.25)
    assert max(sum(fed[at : at + 24]) for at in range(48)) <= rate + 1e-6


def test_a_cut_that_names_its_end_is_foretold_to_end_there(recorded: Recorded, capsys: pytest.CaptureFixture[str]) -> None:
    config, loop = recorded(use_mg_l_day=1.0)  # of old: what this pool takes in three days is far over it
    bar = next(bar for bar in loop.state.durable.barred if bar.why.code == "mass.learned_cut")
    end = datetime.fromisoformat(str(bar.why.fact("until_utc")))
    assert main(["ahead", "--days", "5", "--json", "--config", str(config)]) == 0
    printed = capsys.readouterr()
    assert printed.err.splitlines()[0].startswith("At most 0.6 mg/L of chlorine a day are fed until ")
    hours = json.loads(printed.out)
    ends = next(number for number, hour in enumerate(hours) if datetime.fromisoformat(hour["utc"]) >= end)
    assert 48 < ends < 80
    days = ends / 24.0
    assert sum(hour["fed_mg_l"] for hour in hours[:ends]) <= 0.6 * (days + 1.0)
    feeder, volume = loop.plan.site.feeding(Substance.CHLORINE)[0], loop.plan.site.pool.volume_m3
    before = loop.state.durable.ledger.of(feeder).total_g
    for _ in loop.run(float(len(hours))):
        pass
    fed = (loop.state.durable.ledger.of(feeder).total_g - before) / volume
    assert sum(hour["fed_mg_l"] for hour in hours) == pytest.approx(fed, rel=0.35)


A_TABLE = '[signals.{0}]\nkind = "{1}"\ntopic = "dosectl/demo/pump_room/state"\npointer = "/{2}"\n\n'
COVER = A_TABLE.format("cover", "cover", "cover_closed")
SKY = A_TABLE.format("sky", "sunlight", "sunlight_percent")


def test_under_a_closed_cover_no_sun_is_foretold_and_the_first_line_says_so(
    recorded: Recorded, capsys: pytest.CaptureFixture[str]
) -> None:
    config, loop = recorded(fault="cover_closed", signals=COVER)
    assert main(["ahead", "--days", "3", "--config", str(config)]) == 0
    shown = capsys.readouterr().out.splitlines()
    assert shown[0].startswith("Assumed: the cover stays closed, so no sun and at most ")
    assert shown[0].endswith(" mg/L of chlorine a day.")
    assert shown[1].startswith("local time")
    assert "sky" not in shown[-1]
    assert main(["ahead", "--days", "3", "--json", "--config", str(config)]) == 0
    printed = capsys.readouterr()
    assert printed.err.splitlines() == shown[:1]
    hours = json.loads(printed.out)
    assert {hour["light_share"] for hour in hours} == {0.0}
    before = loop.state.durable.ledger.total_g(Substance.CHLORINE)
    for _ in loop.run(72.0):
        pass
    fed = (loop.state.durable.ledger.total_g(Substance.CHLORINE) - before) / loop.plan.site.pool.volume_m3
    assert sum(hour["fed_mg_l"] for hour in hours) == pytest.approx(fed, rel=0.3)
    truth = loop.plant.truth().free_chlorine_mg_l
    assert hours[-1]["low_mg_l"] < truth < hours[-1]["high_mg_l"]


def test_an_open_cover_is_named_and_bounds_nothing(recorded: Recorded, capsys: pytest.CaptureFixture[str]) -> None:
    config, _ = recorded(signals=COVER)
    assert main(["ahead", "--config", str(config)]) == 0
    assert capsys.readouterr().out.splitlines()[0] == "Assumed: the cover stays open; 100 % of clear-sky light."


def test_a_closed_cover_holds_nothing_of_a_summer_day_in_the_sun(recorded: Recorded, capsys: pytest.CaptureFixture[str]) -> None:
    config, _ = recorded(fault="cover_closed", signals=COVER)
    assert main(["enough", "--json", "--config", str(config)]) == 0
    found = json.loads(capsys.readouterr().out)
    assert (found["held"], found["caveat"], found["limit_mg_l"]) == ([], None, 5.0)


AS_HEARD = [(True, "closed, so no sun and at most"), (False, "the cover stays open;"), (None, "sun as with it open, and at most")]


@pytest.mark.parametrize(("closed", "said"), AS_HEARD)
def test_a_cover_is_taken_as_it_was_heard_last(recorded: Recorded, closed: bool | None, said: str) -> None:
    config, loop = recorded(fault="cover_closed", signals=COVER)
    durable = loop.state.durable
    assert any(bar.guard == "cover.closed" for bar in durable.barred)
    changed = replace(durable, estimate=replace(durable.estimate, cover_closed=closed))
    allowed = allowed_by(load(config), changed)
    plan = loop.plan
    may = feeding(plan.site, plan.control, durable.habit, durable.standing, allowed)
    assert said in sky_line(plan.site, changed.estimate, may)
    assert (may.rates == ()) is (closed is False)  # the guard waits ten minutes to believe it, the plan is of days


def test_until_enough_days_are_accepted_half_may_be_fed_in_an_hour_and_at_once_but_not_so_by_summer(recorded: Recorded) -> None:
    config, loop = recorded()
    durable = replace(loop.state.durable, standing=replace(loop.state.durable.standing, daily_use_mg_l=()))
    young, later = allowed_by(load(config), durable), allowed_by(load(config), durable, later=True)
    assert (young.hour_mg_l, young.single_mg_l) == (0.5, 0.25)
    assert (later.hour_mg_l, later.single_mg_l) == (1.0, 0.5)
    assert young.mixing_s == later.mixing_s == 1200.0


def test_the_sunlight_that_was_told_is_foretold_and_the_first_line_says_how_much(
    recorded: Recorded, capsys: pytest.CaptureFixture[str]
) -> None:
    config, loop = recorded(signals=SKY)
    share = loop.state.durable.estimate.light_share
    assert share < 0.99  # else nothing is shown: of two sunny days
    assert main(["ahead", "--config", str(config)]) == 0
    line = f"Assumed: no cover, for none is signalled; {100.0 * share:.0f} % of clear-sky light, the mean of what was told."
    assert capsys.readouterr().out.splitlines()[0] == line
    assert main(["ahead", "--json", "--config", str(config)]) == 0
    assert {hour["light_share"] for hour in json.loads(capsys.readouterr().out)} == {share}


def test_a_healthy_pool_is_planned_as_before_at_any_hour(recorded: Recorded, capsys: pytest.CaptureFixture[str]) -> None:
    config, loop = recorded()
    for _ in range(24):
        for _ in loop.run(1.0):
            pass
        assert loop.state.durable.barred == ()
    assert main(["ahead", "--days", "2", "--config", str(config)]) == 0
    shown = capsys.readouterr().out
    first, second, *_ = shown.splitlines()
    assert first == "Assumed: no cover, for none is signalled; 100 % of clear-sky light."
    assert second.startswith("local time")
    assert "0.0 mg/L of chlorine in all" not in shown


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["enough", "--flow-h", "30"], "accepted is more than 0 and at most 24"),
    ],
)
def test_what_can_not_be_answered_is_refused(
    config: Path, capsys: pytest.CaptureFixture[str], words: list[str], said: str
) -> None:
    assert main([*words, "--config", str(config)]) == 2
    assert said in capsys.readouterr().err
