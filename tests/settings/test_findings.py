"""Every error at once, each naming the key, what was found, what is accepted and the nearest known key."""

from pathlib import Path

import pytest

from dosectl.settings.findings import SettingsError
from dosectl.settings.load import load
from tests.settings.example_data import example, finding, findings, loaded


def test_all_errors_of_a_file_are_told_at_once() -> None:
    data = example(
        pool__volume_m3=50_000,
        pool__latitude_deg="47",
        pool__time_zone=None,
        signals__orp__topic="plant/#",
        signals__flow__period_s=9,
        feeders__cell__output_gh=3,
        broker__port=0,
        probes__prove_s=1.0,
        poool={},
    )
    assert {item.key for item in findings(data)} >= {
        "pool.volume_m3",
        "pool.latitude_deg",
        "pool.time_zone",
        "signals.orp.topic",
        "signals.flow.period_s",  # a cross check, told beside the errors of single keys
        "feeders.cell.output_gh",
        "broker.port",
        "probes.prove_s",
        "poool",
    }


def test_an_error_names_file_key_found_and_accepted() -> None:
    with pytest.raises(SettingsError) as caught:
        loaded(example(pool__stabiliser_mg_l=900))
    words = str(caught.value)
    assert "test.toml, pool.stabiliser_mg_l = 900: accepted is a number from 0 to 300 mg/L" in words


@pytest.mark.parametrize(
    ("place", "key", "nearest"),
    [
        ("pool__stabilizer_mg_l", "pool.stabilizer_mg_l", "stabiliser_mg_l"),
        ("pool__alkalinty_mg_l", "pool.alkalinty_mg_l", "alkalinity_mg_l"),
        ("feeders__cell__feedbak", "feeders.cell.feedbak", "feedback"),
        ("signals__orp__sigma", "signals.orp.sigma", "sigma_mv"),
        ("probes__prove_sec", "probes.prove_sec", "prove_s"),
    ],
)
def test_an_unknown_key_names_the_nearest_known_one(place: str, key: str, nearest: str) -> None:
    assert nearest in finding(example(**{place: 40}), key).do


def test_an_unknown_table_and_an_unknown_guard_name_the_nearest_known_one() -> None:
    assert "[broker]" in finding(example(brocker={"host": "x"}), "brocker").do
    assert "proven" in finding(example(guards={"flow": {"prooven": {}}}), "guards.flow.prooven").do


@pytest.mark.parametrize("kind", ["acidpump", "pump", "chlorine_pump", "bleach", ""])
def test_the_kind_of_a_feeder_is_never_guessed(kind: str) -> None:
    """A hypochlorite feeder of kind "pump" was told to be written as an acid pump."""
    told = finding(example("hypochlorite_and_acid", feeders__chlorine__kind=kind), "feeders.chlorine.kind").do
    assert all(known in told for known in ("cell", "hypochlorite_pump", "acid_pump"))


def test_an_unknown_kind_of_signal_names_the_nearest_known_one() -> None:
    assert '"water_temp"' in finding(example(signals__watertemp={"topic": "t"}), "signals.watertemp.kind").do


def test_an_interlock_that_no_pool_can_do_without_is_refused_with_those_that_may_be_named() -> None:
    found = finding(example(pool__without=["probe.agreement", "feeder.runs"]), "pool.without")
    assert "feeder.runs" in found.found
    assert "probe.agreement" in str(found)


def test_naming_an_interlock_that_runs_here_is_told_as_it_would_hide_its_end() -> None:
    fitted = example("salt_and_acid", pool__without=["cover.closed"], signals__cover={"topic": "plant/cover"})
    told = [text for text in loaded(fitted).warnings if "not off here" in text]
    assert len(told) == 1
    assert "cover.closed" in told[0]


def test_interlocks_that_are_off_and_not_named_are_told_before_anything_runs() -> None:
    assert not [text for text in loaded(example("salt_and_acid")).warnings if "without" in text]
    (told,) = [text for text in loaded(example("salt_and_acid", pool__without=["water.path"])).warnings if "without" in text]
    assert "probe.agreement" in told
    assert "water.path" not in told


def test_a_missing_key_says_what_it_means_and_what_to_write() -> None:
    found = finding(example(pool__alkalinity_mg_l=None), "pool.alkalinity_mg_l")
    assert "missing" in found.why
    assert "20 to 400 mg/L" in found.do


@pytest.mark.parametrize("value", [True, "40", "7,4", [40], {"a": 1}, float("nan"), float("inf"), -1, 10**400])
def test_what_is_no_number_in_range_is_refused(value: object) -> None:
    finding(example(pool__stabiliser_mg_l=value), "pool.stabiliser_mg_l")


def test_a_number_in_quotes_is_refused_with_what_to_write() -> None:
    assert "without quotes" in finding(example(pool__volume_m3="50 m3"), "pool.volume_m3").do


def test_a_value_where_a_table_belongs_is_refused() -> None:
    finding(example(pool=50), "pool")
    finding(example(signals=[1]), "signals")
    finding(example(signals__orp="plant/orp"), "signals.orp")
    finding(example(feeders={}), "feeders")


def test_names_are_plain() -> None:
    assert any("a to z" in item.why for item in findings(example(feeders={"Cell 1": example()["feeders"]["cell"]})))


def test_a_time_zone_that_is_not_known_names_the_nearest() -> None:
    assert '"Europe/Zurich"' in finding(example(pool__time_zone="Europe/Zurch"), "pool.time_zone").do


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (b"[pool\n", "no TOML"),
        (b"[pool]\nvolume_m3 = 7,4\n", "no TOML"),
        (b"[pool]\na = 1\na = 2\n", "no TOML"),
        (b"\xff\xfe[pool]", "UTF-8"),
        (b"x = " + b"[" * 50_000, "no TOML"),
        (b"x = " + b"9" * 10_000, "no TOML"),
        (b"#" * 1_000_001, "1 MB"),
    ],
)
def test_what_is_no_settings_file_is_refused_with_the_reason(tmp_path: Path, text: bytes, words: str) -> None:
    path = tmp_path / "home.toml"
    path.write_bytes(text)
    with pytest.raises(SettingsError, match=words):
        load(path)


def test_an_absent_file_and_a_folder_are_refused_with_the_reason(tmp_path: Path) -> None:
    with pytest.raises(SettingsError, match="No such file"):
        load(tmp_path / "nothing.toml")
    with pytest.raises(SettingsError, match="directory"):
        load(tmp_path)
