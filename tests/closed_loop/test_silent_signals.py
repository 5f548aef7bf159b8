"""A fitted signal falls silent, or never spoke: somebody is told while there is time to act."""

from datetime import UTC, datetime
from pathlib import Path

import pytest

from dosectl.model.signals import SignalId
from dosectl.rehearsal.loop import ClosedLoop
from dosectl.rehearsal.own_pool import OwnPlant, own_loop
from dosectl.settings.load import load

SUNLIGHT = '[signals.sunlight]\ntopic = "plant/sunlight"\n\n'
COVER = '[signals.cover]\ntopic = "plant/cover"\n\n'
NOON_H = 6.0  # the loop begins at six in the morning


def a_loop(folder: Path, more: str = COVER) -> ClosedLoop:
    text = Path("config/salt_and_acid.toml").read_text(encoding="utf-8")
    file = folder / "pool.toml"
    file.write_text(text.replace("[signals.orp]", more + "[signals.orp]", 1), encoding="utf-8")
    loop, _ = own_loop(load(file), datetime(2026, 6, 1, 6, tzinfo=UTC), 3)
    return loop


def raised(loop: ClosedLoop, hours: float) -> dict[str, str]:
    """Alarms raised, and what each names as its cause."""
    found: dict[str, str] = {}
    for moment in loop.run(hours):
        for change in moment.decision.alarms:
            if change.change == "raised":
                found[str(change.code)] = "" if change.why is None else str(change.why.fact("signal"))
    return found


@pytest.mark.parametrize("signal", ["cover", "water_temp", "salt", "acid_level", "cell_current"])
def test_a_fitted_signal_that_falls_silent_is_called_within_the_hour(signal: str, tmp_path: Path) -> None:
    loop = a_loop(tmp_path)
    assert "probe.signal_silent" not in raised(loop, NOON_H)
    loop._names.pop(SignalId(signal))
    assert raised(loop, 1.0)["probe.signal_silent"] == signal


def test_a_fitted_signal_that_never_spoke_is_called_too(tmp_path: Path) -> None:
    loop = a_loop(tmp_path)
    loop._names.pop(SignalId("cover"))
    assert raised(loop, 1.0)["probe.signal_silent"] == "cover"


def test_a_second_signal_that_falls_silent_is_called_by_its_own_name(tmp_path: Path) -> None:
    """The alarm of the first stood, and nobody heard of the second."""
    loop = a_loop(tmp_path)
    loop._names.pop(SignalId("cover"))
    assert raised(loop, 3.0)["probe.signal_silent"] == "cover"
    loop._names.pop(SignalId("water_temp"))
    called = [
        c.why.fact("signal") for m in loop.run(10.0) for c in m.decision.alarms if c.why and c.code == "probe.signal_silent"
    ]
    assert "water_temp" in called


def test_a_sunlight_sensor_that_is_dark_by_day_is_called_until_it_speaks_and_one_under_clouds_is_not(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What it says is not believed then (`light`), and its owner would not know that the sun is only reckoned as usual."""
    loop = a_loop(tmp_path, SUNLIGHT)
    clouds = 5.0  # % of a clear sky's: thicker than the simulated weather has them
    light, seen = [clouds], OwnPlant.signals
    monkeypatch.setattr(OwnPlant, "signals", lambda plant: {**seen(plant), "id:sunlight": light[0]})
    assert "probe.sunlight_dark" not in raised(loop, 24.0)
    light[0] = 0.0
    assert "probe.sunlight_dark" not in raised(loop, 5.9)
    assert raised(loop, 18.0)["probe.sunlight_dark"] == "sunlight"
    light[0] = 60.0
    ended = [change for moment in loop.run(2.0) for change in moment.decision.alarms if change.code == "probe.sunlight_dark"]
    assert [change.change for change in ended] == ["cleared"]
