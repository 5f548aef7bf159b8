"""How a room declares a setting once: default, range, unit and the source or reason of the default.

`settings` derives the file format, its errors and the settings reference from these declarations.
"""

from dataclasses import dataclass, field
from typing import Any


@dataclass(frozen=True, slots=True)
class Range:
    """Bounds [unit] of a setting, both inclusive, and why the default is what it is."""

    ge: float
    le: float
    unit: str
    why: str


def setting(default: Any, *, ge: float, le: float, unit: str, why: str) -> Any:
    """A dataclass field with a default inside a hard range. `why` names the source or the reason of the default.

    Raises ValueError where the default lies outside its own range.
    """
    if not ge <= default <= le:
        raise ValueError(f"default {default} {unit} lies outside {ge} to {le}")
    return field(default=default, metadata={"range": Range(ge, le, unit, why)})


def check_ranges(params: Any) -> tuple[str, ...]:
    """Names of the fields of a params dataclass whose value lies outside its declared range (empty: all well)."""
    bad: list[str] = []
    for name, spec in params.__dataclass_fields__.items():
        limits = spec.metadata.get("range")
        if limits is not None and not limits.ge <= getattr(params, name) <= limits.le:
            bad.append(name)
    return tuple(bad)
