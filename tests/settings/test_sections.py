"""Settings of the rooms come from their params: a new one appears in the file, its errors and the reference by itself."""

from dataclasses import dataclass
from enum import StrEnum
from pathlib import Path

import pytest

from dosectl.core.interlocks import registry
from dosectl.model.ranges import setting
from dosectl.settings import rooms
from dosectl.settings.findings import SettingsError
from dosectl.settings.load import loaded_from
from dosectl.settings.reference import reference_markdown
from dosectl.settings.tables.sections import Section, model_of, params_of, tree_of
from tests.settings.example_data import example, finding, loaded


class Manner(StrEnum):
    SOFT = "soft"
    HARD = "hard"


@dataclass(frozen=True, slots=True)
class Invented:
    """An invented guard."""

    limit_mg_l: float = setting(0.5, ge=0.1, le=2.0, unit="mg/L", why="invented for this test")
    times: int = setting(3, ge=1, le=9, unit="1", why="invented")
    manner: Manner = Manner.SOFT
    on: bool = True
    hours_h: tuple[float, ...] = (1.0, 2.0)
    cap_mg_l: float | None = None


NEW = (*rooms.sections(), Section("guards.invented.limit", Invented), Section("guards.invented", Invented))


def invented(**keys: object) -> Invented:
    models = {name: model_of(branch, name) for name, branch in tree_of(NEW).tables.items()}
    tables = {"guards": models["guards"].model_validate({"invented": {"limit": keys}})}
    params = params_of(NEW[-2], tables)
    assert isinstance(params, Invented)
    return params


def test_a_new_guards_settings_are_in_the_file_format_with_their_defaults() -> None:
    assert invented() == Invented()
    assert invented(limit_mg_l=1, manner="hard", hours_h=[3], cap_mg_l=0.2) == Invented(
        limit_mg_l=1.0, manner=Manner.HARD, hours_h=(3,), cap_mg_l=0.2
    )


def test_a_new_guards_settings_are_in_the_reference() -> None:
    reference = reference_markdown(NEW)
    assert "### `[guards.invented.limit]`\n\nAn invented guard." in reference
    assert "| `limit_mg_l` | `0.5` | 0.1 to 2 | mg/L | invented for this test |" in reference
    assert '| `manner` | `"soft"` | "soft", "hard" |' in reference


def test_a_new_guards_settings_are_judged_with_its_range_and_unit() -> None:
    data = example(guards={"invented": {"limit": {"limit_mg_l": 0.00005, "times": 2.5, "manner": "sof"}}})
    with pytest.raises(SettingsError) as caught:
        loaded_from(data, Path("test.toml"), NEW)
    found = {item.key: item for item in caught.value.findings}
    assert "0.1 to 2 mg/L" in found["guards.invented.limit.limit_mg_l"].why
    assert "percent would be 0.5 mg/L" in found["guards.invented.limit.limit_mg_l"].why
    assert set(found) == {f"guards.invented.limit.{key}" for key in ("limit_mg_l", "times", "manner")}


def test_two_sections_of_one_name_and_a_key_that_is_a_table_too_are_faults_of_the_registry() -> None:
    with pytest.raises(ValueError, match="two sections"):
        tree_of((Section("a.b", Invented), Section("a.b", Invented)))
    with pytest.raises(ValueError, match="table and a setting"):
        model_of(tree_of((Section("a", Invented), Section("a.times", Invented))), "file")


def test_every_guard_with_params_has_its_section_and_its_defaults() -> None:
    guards = loaded(example()).params["guards"]
    assert guards == registry.default_params()
    assert guards  # there are some


def test_a_guards_setting_reaches_its_guard() -> None:
    params = loaded(example(guards={"flow": {"proven": {"proving_s": 90}}})).params
    assert params["guards"]["flow.proven"].proving_s == 90.0
    assert isinstance(params["guards"]["flow.proven"].proving_s, float)


def test_a_guards_setting_out_of_range_is_refused() -> None:
    assert "accepted is" in finding(example(guards={"flow": {"proven": {"proving_s": 0}}}), "guards.flow.proven.proving_s").why


def test_every_default_of_every_room_is_a_setting_with_a_reason() -> None:
    reference = reference_markdown()
    for section in rooms.sections():
        assert f"`[{section.path}]`" in reference
    assert loaded(example()).params["probes"] == rooms.ROOMS[0].params()


def test_the_reference_lists_every_key_of_the_examples() -> None:
    reference = reference_markdown()
    for name in ("minimal", "salt_and_acid", "hypochlorite_and_acid"):
        data = example(name)
        keys = {*data["pool"], *data.get("broker", {})}
        for table in (*data["signals"].values(), *data["feeders"].values()):
            keys |= {key for key, value in table.items() if not isinstance(value, dict)}
        assert not {key for key in keys if f"| `{key}` |" not in reference}
