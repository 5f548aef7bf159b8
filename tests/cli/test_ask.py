"""`dosectl ask` prints answers with their safety notes, and refuses in a sentence."""

import argparse
import json

import pytest

from dosectl.cli import ask_water
from dosectl.cli.__main__ import main
from dosectl.core.advice.known import Field, Value

WATER = [
    *("--volume-m3", "50", "--free-chlorine", "2", "--ph", "7.5", "--alkalinity", "90"),
    *("--stabiliser", "50", "--hardness", "250", "--salt", "3.2", "--temp-c", "26"),
]


@pytest.fixture(autouse=True)
def _alone(monkeypatch: pytest.MonkeyPatch, tmp_path: object) -> None:
    """No running demo of the person who runs the tests answers for the water."""
    monkeypatch.setenv("XDG_RUNTIME_DIR", str(tmp_path))


def test_a_dose_comes_with_side_effects_and_safety(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["ask", "add", "hypochlorite", "--strength-trade-percent", "12.5", "--to", "4", *WATER]) == 0
    printed = capsys.readouterr().out
    assert "800 mL of hypochlorite" in printed
    assert "what else moves" in printed
    assert "never pour, carry, store or rinse them together" in printed
    assert "working" not in printed


def test_the_working_is_shown_on_demand(capsys: pytest.CaptureFixture[str]) -> None:
    main(["ask", "add", "hypochlorite", "--strength-trade-percent", "12.5", "--to", "4", "--working", *WATER])
    assert "- what 1 mL does in 1 m3: 0.125 mg/L (stoichiometry and the label)" in capsys.readouterr().out.replace("  (", " (")


def test_json_holds_numbers_with_their_doubt(capsys: pytest.CaptureFixture[str]) -> None:
    main(["ask", "balance", "--json", *WATER])
    answer = json.loads(capsys.readouterr().out)
    assert answer["figures"][0]["sigma"] > 0.0
    assert answer["says"][0]["code"] == "advice.index"


def test_a_deadly_mixture_is_refused_with_a_failing_status(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["ask", "mix", "acid", "hypochlorite"]) == 1
    assert "REFUSED" in capsys.readouterr().out


@pytest.mark.parametrize(
    "words",
    [
        ["add", "hypochlorite", "--strength-percent", "12.5", "--to", "4", *WATER],
        ["add", "hypochlorite", "--to", "4", *WATER],
        ["add", "acid", "--strength-percent", "0.31", "--to", "7.2", *WATER],
        ["add", "acid", "--strength-percent", "31", "--to", "7.2", "--volume-m3", "50", "--ph", "7.8"],
        ["add", "hypochlorite", "--strength-trade-percent", "12.5", *WATER],
        ["add", "hypochlorite", "--strength-trade-percent", "12.5", "--to", "4", *WATER, "--free-chlorine", "-2"],
        ["come-down", "--to", "5", *WATER],
        ["next-test", "--tested", "pH", *WATER],
        ["test", "pH", "7.4", "strips", "--total-chlorine", "3"],
        ["swim", *WATER, "--method", "guess"],
    ],
)
def test_bad_questions_get_one_sentence_and_no_number(words: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["ask", *words]) == 1
    printed = capsys.readouterr()
    assert printed.out == ""
    assert "accepted is" in printed.err


@pytest.mark.parametrize(
    "words",
    [
        ["come-down", "--to", "5", *WATER, "--free-chlorine", "12"],
        ["stabiliser", *WATER],
        ["swim", *WATER],
        ["next-test", *WATER, "--tested", "pH=3"],
        ["salt", *WATER, "--salt", "2.2"],
        ["lower-alkalinity", "acid", "--strength-percent", "31", "--to", "70", *WATER],
        ["aerate", "--to", "7.7", *WATER],
        ["replace", "stabiliser", "--to", "30", *WATER],
        ["test", "free-chlorine", "3", "strips"],
        ["test", "free-chlorine", "2", "drops", "--total-chlorine", "3.5"],
        ["add", "chlorinator", "--output-g-h", "20", "--to", "3", *WATER],
        ["add", "trichlor", "--strength-available-percent", "90", "--amount", "200", *WATER],
    ],
)
def test_every_question_is_answered_without_gaps(words: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["ask", *words, "--json"]) == 0
    answer = json.loads(capsys.readouterr().out)
    assert answer["says"]
    assert not any("?" in item["text"] for item in answer["says"])


def test_the_controllers_view_becomes_a_water_with_its_doubt() -> None:
    view = {
        "water": {
            "free_chlorine_mg_l": 3.0, "free_chlorine_low95_mg_l": 2.0, "free_chlorine_high95_mg_l": 5.92,
            "ph": 7.4, "ph_sigma": 0.1, "stabiliser_mg_l": 45, "stabiliser_sigma_mg_l": 8, "alkalinity_mg_l": 85, "temp_c": 27.0,
        },
        "tests": [{"quantity": "salt", "value": 3.4, "sigma": 0.2, "method": "meter"}],
    }  # fmt: skip
    water = ask_water.believed(view)
    assert water[Field.FREE_CHLORINE].sigma == pytest.approx(1.0)
    assert water[Field.SALT].source == "your test by meter"


VIEW = {
    "at_utc": "2026-07-11T12:00:00+00:00",
    "pool": {"simulated": True},
    "water": {
        "free_chlorine_mg_l": 4.0, "free_chlorine_low95_mg_l": 3.5, "free_chlorine_high95_mg_l": 4.5,
        "ph": 7.4, "ph_sigma": 0.05, "stabiliser_mg_l": 45, "stabiliser_sigma_mg_l": 5, "alkalinity_mg_l": 85, "temp_c": 27.0,
    },
    "tests": [
        {"quantity": "free_chlorine", "value": 4.0, "sigma": 0.2, "method": "drops", "taken_utc": "2026-07-10T12:00:00+00:00"},
    ],
    "added_utc": "2026-07-11T11:30:00+00:00",
    "place": {"latitude_deg": -34.0, "longitude_deg": 151.0, "depth_m": 1.2},
}  # fmt: skip


@pytest.fixture
def controller(monkeypatch: pytest.MonkeyPatch) -> None:
    """A running controller that published `VIEW`."""

    def seen(arguments: argparse.Namespace) -> dict[Field, Value]:
        arguments.view = VIEW
        return ask_water.believed(VIEW)

    monkeypatch.setattr(ask_water, "_seen", seen)


@pytest.mark.usefixtures("controller")
def test_what_was_entered_as_added_keeps_people_out(capsys: pytest.CaptureFixture[str]) -> None:
    main(["ask", "swim", "--live", "--clear", "yes", "--combined-chlorine", "0.1", "--json"])
    codes = [item["code"] for item in json.loads(capsys.readouterr().out)["says"]]
    assert "swim.added" in codes


@pytest.mark.usefixtures("controller")
def test_tests_in_the_record_are_not_told_as_never_done(capsys: pytest.CaptureFixture[str]) -> None:
    main(["ask", "next-test", "--live", "--changed", "alkalinity"])
    told = capsys.readouterr().out
    assert "free chlorine by drops. It was never" not in told
    assert "In 6 days: free chlorine" in told
    assert "the controller's probes" in told.lower()


@pytest.mark.usefixtures("controller")
def test_the_light_is_that_of_the_pools_own_place(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["ask", "come-down", "--to", "1", "--volume-m3", "50", "--live"]) == 0
    assert "at the pool's place" in capsys.readouterr().out


def test_who_has_no_controller_is_not_told_of_its_probes(capsys: pytest.CaptureFixture[str]) -> None:
    main(["ask", "next-test", *WATER, "--tested", "ph=3"])
    assert "probes watch" not in capsys.readouterr().out


@pytest.mark.parametrize("name", ["hardness", "alkalinity", "calcium-hardness"])
def test_a_quantity_may_be_named_as_its_option(name: str) -> None:
    assert main(["ask", "replace", name, "--to", "60", *WATER]) == 0


def test_a_quantity_is_known_by_either_of_its_spellings(capsys: pytest.CaptureFixture[str]) -> None:
    """`dosectl test free_chlorine` and `dosectl ask test free_chlorine` are typed one after the other."""
    shown = []
    for name in ("free_chlorine", "free-chlorine"):
        assert main(["ask", "test", name, "2", "drops"]) == 0
        shown.append(capsys.readouterr().out)
    assert shown[0] == shown[1]
