"""Whatever stands in the file: it is loaded or refused with findings, never anything else; and what is loaded is bounded."""

import tempfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

from hypothesis import given, settings
from hypothesis import strategies as st

from dosectl.model.feeds import Substance
from dosectl.settings.describe import implications
from dosectl.settings.findings import SettingsError
from dosectl.settings.load import Loaded, load
from tests.settings.example_data import CONFIG, example, loaded

scalars = st.one_of(
    st.booleans(),
    st.integers(),
    st.just(10**400),
    st.floats(),
    st.text(max_size=20),
    st.sampled_from(["cell", "acid_pump", "orp", "flow", "{seconds}", "W", "Europe/Vienna", "plant/flow", "../..", "\x00"]),
)
values = st.recursive(
    scalars,
    lambda inner: st.one_of(st.lists(inner, max_size=3), st.dictionaries(st.text(max_size=10), inner, max_size=3)),
    max_leaves=6,
)
names = st.sampled_from(["minimal", "salt_and_acid", "hypochlorite_and_acid"])


def places(table: dict[str, Any], above: tuple[str, ...] = ()) -> list[tuple[str, ...]]:
    found: list[tuple[str, ...]] = []
    for key, value in table.items():
        found.append((*above, key))
        if isinstance(value, dict):
            found += places(value, (*above, key))
    return found


def tables_at(data: dict[str, Any], place: tuple[str, ...]) -> dict[str, Any] | None:
    table: Any = data
    for step in place:
        table = table.get(step) if isinstance(table, dict) else None
    return table if isinstance(table, dict) else None


@st.composite
def mutated(draw: st.DrawFn) -> dict[str, Any]:
    data = example(draw(names))
    for _ in range(draw(st.integers(1, 4))):
        *above, key = draw(st.sampled_from(places(data)))
        table = tables_at(data, tuple(above))
        if table is None or key not in table:
            continue
        act = draw(st.sampled_from(["replace", "scale", "remove", "rename", "add"]))
        old = table[key]
        if act == "replace":
            table[key] = draw(values)
        elif act == "scale" and isinstance(old, int | float) and abs(old) < 1e9:
            table[key] = old * draw(st.sampled_from([0, -1, 0.1, 10, 1000, 3.785, 60, 1 / 60]))
        elif act == "remove":
            del table[key]
        elif act == "rename":
            table[draw(st.text(max_size=12))] = table.pop(key)
        else:
            table[draw(st.text(max_size=12))] = draw(values)
    return data


def outcome(data: dict[str, Any]) -> Loaded | SettingsError:
    return result_of(lambda: loaded(data))


def result_of(act: Callable[[], Loaded]) -> Loaded | SettingsError:
    try:
        return act()
    except SettingsError as error:
        return error


def is_bounded(it: Loaded) -> bool:
    site = it.site
    hourly = {
        substance: sum(f.hourly_cap_g for f in site.feeders if f.substance is substance) / site.pool.volume_m3
        for substance in Substance
    }
    return hourly[Substance.CHLORINE] <= 1.5 + 1e-6 and hourly[Substance.ACID] <= 5.0 + 1e-6


@settings(max_examples=400, deadline=None)
@given(mutated())
def test_a_mutated_file_is_loaded_or_refused_and_what_is_loaded_is_bounded_and_seen(data: dict[str, Any]) -> None:
    result = outcome(data)
    if isinstance(result, SettingsError):
        assert result.findings
        assert all(str(item).strip() and len(str(item)) < 2000 for item in result.findings)
        return
    assert is_bounded(result)
    assert all(feeder.feedback is not None for feeder in result.site.feeders)
    if len({feeder.substance for feeder in result.site.feeders}) > 1:
        assert all(feeder.metered for feeder in result.site.feeders)
    assert len(result.site.digest) == 64
    assert implications(result.site, result.params["control"])


@settings(max_examples=200, deadline=None)
@given(
    st.dictionaries(st.one_of(st.text(max_size=8), st.sampled_from(["pool", "signals", "feeders", "guards"])), values, max_size=5)
)
def test_any_tables_are_loaded_or_refused(data: dict[str, Any]) -> None:
    result = outcome(data)
    assert isinstance(result, SettingsError)  # without a pool there is nothing to load
    assert result.findings


@settings(max_examples=150, deadline=None)
@given(st.data())
def test_a_damaged_file_is_loaded_or_refused(data: st.DataObject) -> None:
    raw = bytearray((CONFIG / "minimal.toml").read_bytes())
    for _ in range(data.draw(st.integers(1, 5))):
        at = data.draw(st.integers(0, len(raw) - 1))
        raw[at : at + data.draw(st.integers(0, 6))] = data.draw(st.binary(max_size=4))
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "home.toml"
        path.write_bytes(bytes(raw))
        result = result_of(lambda: load(path))
    assert result.findings if isinstance(result, SettingsError) else is_bounded(result)
