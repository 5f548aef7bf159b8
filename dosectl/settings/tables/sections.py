"""Params of the rooms as tables of the file: made from the dataclass, so a new setting or a new guard appears by itself."""

import dataclasses
import types
import typing
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from enum import Enum
from typing import Any

from pydantic import Field, create_model

from dosectl.model.ranges import Range
from dosectl.settings.tables.fields import Strict


@dataclass(frozen=True, slots=True)
class Section:
    """One room's settings.

    path : dotted place in the file; for a guard `guards.` and its code
    params : frozen dataclass whose fields all have a default
    words : what the section is for, left out: the first line of the params' docstring
    """

    path: str
    params: type[Any]
    words: str = ""


@dataclass
class _Branch:
    """A table on the way to the sections: it holds settings of its own, tables, or both."""

    params: type[Any] | None = None
    words: str = ""
    tables: "dict[str, _Branch]" = dataclasses.field(default_factory=dict)


def tree_of(sections: Iterable[Section]) -> _Branch:
    """The sections as nested tables. Raises ValueError where two sections have one path."""
    root = _Branch()
    for section in sections:
        branch = root
        for name in section.path.split("."):
            branch = branch.tables.setdefault(name, _Branch())
        if branch.params is not None:
            raise ValueError(f"two sections are called {section.path!r}")
        branch.params = section.params
        branch.words = section.words or _first_line(section.params)
    return root


def model_of(branch: _Branch, name: str) -> type[Strict]:
    """A pydantic model of a table and all tables below it, every key optional."""
    fields: dict[str, Any] = {}
    if branch.params is not None:
        hints = typing.get_type_hints(branch.params)
        for spec in dataclasses.fields(branch.params):
            fields[spec.name] = (_file_type(hints[spec.name]), _field_of(spec))
    for key, below in branch.tables.items():
        if key in fields:
            raise ValueError(f"{name}.{key} would be a table and a setting")
        model = model_of(below, f"{name}.{key}")
        fields[key] = (model, Field(default_factory=model, description=below.words))
    return create_model(name, __base__=Strict, __doc__=branch.words, **fields)


def params_of(section: Section, tables: Mapping[str, Any]) -> Any:
    """The section's params object from the validated top tables, defaults where the file says nothing."""
    first, *rest = section.path.split(".")
    table: Any = tables[first]
    for name in rest:
        table = getattr(table, name)
    kept = {spec.name: _plain(getattr(table, spec.name), spec) for spec in dataclasses.fields(section.params)}
    return section.params(**kept)


def range_of(spec: dataclasses.Field[Any]) -> Range | None:
    """The declared range of a params field, None where it has none."""
    found = spec.metadata.get("range")
    return found if isinstance(found, Range) else None


def default_of(spec: dataclasses.Field[Any]) -> Any:
    """The default of a params field. Raises ValueError where it has none: a file that leaves the key out must still work."""
    if spec.default is not dataclasses.MISSING:
        return spec.default
    if spec.default_factory is not dataclasses.MISSING:
        return spec.default_factory()
    raise ValueError(f"setting {spec.name!r} has no default")


def is_minimum(key: str) -> bool:
    """The key names a lower bound: `pulse_mg_l_min` does, `flow_l_min` and `rate_ml_min` name a flow per minute."""
    return key.endswith("_min") and (key.endswith("g_l_min") or not key.endswith(("_l_min", "_ml_min")))


def _field_of(spec: dataclasses.Field[Any]) -> Any:
    default = default_of(spec)
    limits = range_of(spec)
    if isinstance(default, Enum):
        default = default.value
    if isinstance(default, tuple):
        default = list(default)
    if limits is None:
        return Field(default, description="")
    bounds: dict[str, Any] = {} if isinstance(default, bool | list) else {"ge": limits.ge, "le": limits.le}
    extra: dict[str, Any] = {"unit": limits.unit, "ge": limits.ge, "le": limits.le}
    return Field(default, description=limits.why, json_schema_extra=extra, **bounds)


def _file_type(hint: Any) -> Any:
    """The type a TOML file can give for a field of that type."""
    if isinstance(hint, type) and issubclass(hint, Enum):
        return typing.Literal[tuple(member.value for member in hint)]
    origin, inner = typing.get_origin(hint), typing.get_args(hint)
    if origin is tuple:
        return list[_file_type(inner[0])]  # type: ignore[misc]  # built while running
    if origin in (typing.Union, types.UnionType):
        return typing.Union[tuple(_file_type(item) for item in inner)]  # noqa: UP007  # built while running
    return getattr(hint, "__supertype__", hint)


def _plain(value: Any, spec: dataclasses.Field[Any]) -> Any:
    """A validated value as the params class wants it."""
    default = default_of(spec)
    if isinstance(default, Enum):
        return type(default)(value)
    if isinstance(value, list):
        return tuple(value)
    if isinstance(default, float) and isinstance(value, int) and not isinstance(value, bool):
        return float(value)
    return value


def _first_line(params: type[Any]) -> str:
    words = (params.__doc__ or "").strip()
    # a dataclass without a docstring gets its signature as one
    return "" if words.startswith(f"{params.__name__}(") else (words.splitlines() or [""])[0]
