"""Settings as nested tables, to be changed in one place by each test, and the findings against them."""

import copy
import tomllib
from pathlib import Path
from typing import Any

from dosectl.settings.findings import Finding, SettingsError
from dosectl.settings.load import Loaded, loaded_from

CONFIG = Path(__file__).parents[2] / "config"
_KEPT = {path.stem: tomllib.loads(path.read_text(encoding="utf-8")) for path in CONFIG.glob("*.toml")}


def example(name: str = "minimal", **changes: Any) -> dict[str, Any]:
    """An example with changes: `pool__volume_m3=5` sets a key, None takes it out. Names are joined by two underscores."""
    data = copy.deepcopy(_KEPT[name])
    for place, value in changes.items():
        *tables, key = place.split("__")
        table = data
        for step in tables:
            table = table.setdefault(step, {})
        if value is None:
            table.pop(key, None)
        else:
            table[key] = value
    return data


def loaded(data: dict[str, Any]) -> Loaded:
    return loaded_from(data, CONFIG / "test.toml")


def findings(data: dict[str, Any]) -> tuple[Finding, ...]:
    """Everything found, empty where the settings can be used."""
    try:
        loaded(data)
    except SettingsError as error:
        return error.findings
    return ()


def finding(data: dict[str, Any], key: str) -> Finding:
    """The finding against that key. Fails with what was found instead where there is none."""
    found = findings(data)
    at_key = [item for item in found if item.key == key]
    assert at_key, f"nothing was found against {key}; found was: {[str(item) for item in found]}"
    return at_key[0]
