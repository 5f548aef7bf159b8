"""Each example file is a working pool: it loads without a finding, and what it says of itself in comments is true."""

import dataclasses
from pathlib import Path

import pytest

from dosectl.model.feeds import FeederId, Substance
from dosectl.model.signals import SignalKind
from dosectl.settings.load import Loaded, load

CONFIG = Path(__file__).parents[2] / "config"
EXAMPLES = sorted(CONFIG.glob("*.toml"))


def hourly_mg_l(loaded: Loaded, feeder: str) -> float:
    return loaded.site.feeder(FeederId(feeder)).hourly_cap_g / loaded.site.pool.volume_m3


def test_the_three_examples_are_there() -> None:
    assert [path.stem for path in EXAMPLES] == ["hypochlorite_and_acid", "minimal", "salt_and_acid"]


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_an_example_loads(path: Path) -> None:
    loaded = load(path)
    assert loaded.site.feeders
    assert all(feeder.feedback is not None and feeder.metered for feeder in loaded.site.feeders)
    assert {binding.signal for binding in loaded.bindings} == {signal.id for signal in loaded.site.signals}


def test_the_minimal_file_is_some_twenty_lines_and_a_whole_pool() -> None:
    lines = [line for line in (CONFIG / "minimal.toml").read_text().splitlines() if line.strip() and not line.startswith("#")]
    assert len(lines) <= 22
    site = load(CONFIG / "minimal.toml").site
    assert {signal.kind for signal in site.signals} == {
        SignalKind.FLOW,
        SignalKind.PUMP,
        SignalKind.ORP,
        SignalKind.PH,
        SignalKind.WATER_TEMP,
        SignalKind.FEEDBACK,
    }
    assert [(feeder.substance, feeder.kind) for feeder in site.feeders] == [(Substance.CHLORINE, "cell")]
    assert site.first(SignalKind.PUMP).threshold == 150.0  # type: ignore[union-attr]


def test_the_minimal_cell_gives_what_its_comment_says() -> None:
    assert hourly_mg_l(load(CONFIG / "minimal.toml"), "cell") == pytest.approx(0.3, abs=1e-9)  # 15 g/h in 50 m3


def test_salt_and_acid_bounds_are_what_the_comments_say() -> None:
    loaded = load(CONFIG / "salt_and_acid.toml")
    assert hourly_mg_l(loaded, "cell") == pytest.approx(0.3)
    # 15 % HCl by weight at 1.074 kg/L is 4.42 mol/L; 25 mL/min for 2000 s, 50.04 mg of CaCO3 per meq, 50 m3
    assert hourly_mg_l(loaded, "acid") == pytest.approx(25 * 2000 / 60 * 4.42 * 0.05004 / 50, rel=2e-3)


def test_hypochlorite_bounds_are_what_the_comments_say() -> None:
    loaded = load(CONFIG / "hypochlorite_and_acid.toml")
    assert hourly_mg_l(loaded, "chlorine") == pytest.approx(25 / 60 * 1000 * 0.125 / 40)  # 125 g/L, 1000 s an hour, 40 m3
    assert hourly_mg_l(loaded, "acid") == pytest.approx(4.6, abs=0.1)
    assert loaded.site.feeder(FeederId("chlorine")).ml_per_g == pytest.approx(8.0)
    assert loaded.site.feeder(FeederId("chlorine")).node is None


def test_relay_templates_are_never_kept_by_the_broker_and_end_by_themselves() -> None:
    relays = load(CONFIG / "hypochlorite_and_acid.toml").relays
    assert [relay.feeder for relay in relays] == ["chlorine", "acid"]
    assert all("{seconds}" in relay.on_payload for relay in relays)
    assert all(relay.off_topic == relay.on_topic for relay in relays)


def test_payload_units_go_to_the_decoder_and_thresholds_to_the_site_in_standard_units() -> None:
    loaded = load(CONFIG / "hypochlorite_and_acid.toml")
    bindings = {binding.signal: binding for binding in loaded.bindings}
    assert (bindings["flow"].unit, bindings["orp"].unit, bindings["water_temp"].unit) == ("m3/h", "V", "degF")  # type: ignore[index]
    assert bindings["pump"].switch  # type: ignore[index]
    assert bindings["pump"].on_words == ("running",)  # type: ignore[index]
    thresholds = {signal.id: signal.threshold for signal in loaded.site.signals}
    assert thresholds["flow"] == 60.0  # type: ignore[index]  # L/min
    assert thresholds["chlorine_load"] == 0.05  # type: ignore[index]  # A


def test_two_loads_of_one_file_are_equal() -> None:
    first, second = load(CONFIG / "salt_and_acid.toml"), load(CONFIG / "salt_and_acid.toml")
    assert dataclasses.asdict(first.site) == dataclasses.asdict(second.site)
    assert first.site.digest
