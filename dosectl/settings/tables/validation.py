"""One table of the file against its model: every error becomes a finding with what was found and what is accepted."""

import typing
from collections.abc import Mapping
from typing import Any

from pydantic import ValidationError
from pydantic.fields import FieldInfo

from dosectl.settings.findings import Finding, shown
from dosectl.settings.tables.fields import Strict
from dosectl.settings.tables.guesses import nearest, renamed_guess, unit_guess

SECRET_KEYS = frozenset({"password", "passwd", "pass", "secret", "token", "api_key", "apikey", "key", "user_password"})
_STRENGTH_KEYS = frozenset(
    {"strength_percent", "strength", "percent_strength", "strength_pct", "chlorine_percent", "concentration_percent"}
)


def validated(model: type[Strict], table: object, path: str) -> tuple[Strict | None, tuple[Finding, ...]]:
    """The table as an object of the model, or None and every finding."""
    if not isinstance(table, dict):
        return None, (Finding(path, shown(table), "a table is wanted here", f"write [{path}] and its keys below it"),)
    try:
        return model.model_validate(table), ()
    except ValidationError as error:
        details = error.errors(include_url=False, include_context=False)
        return None, tuple(_finding(model, path, tuple(item["loc"]), item["type"], item["input"]) for item in details)


def _finding(model: type[Strict], path: str, place: tuple[int | str, ...], kind: str, found: Any) -> Finding:
    table, name, extra = _owner(model, place)
    key = ".".join([path, *(str(step) for step in place[: len(place) - extra])])
    if kind == "extra_forbidden":
        return unknown_key(table, key, name, found)
    field = table.model_fields[name]
    if kind == "missing":
        return Finding(key, "", f"this is missing: {field.description}", f"write {name} = {accepted(field)}")
    return _wrong_value(key, field, kind, found)


def _owner(model: type[Strict], place: tuple[int | str, ...]) -> tuple[type[Strict], str, int]:
    """The table that holds the place, the key in it, and how many steps of the place lie below that key."""
    table = model
    for index, step in enumerate(place):
        name = str(step)
        below = table_of(table.model_fields[name]) if name in table.model_fields else None
        if below is None or index == len(place) - 1:
            return table, name, len(place) - index - 1
        table = below
    return table, "", 0


def table_of(field: FieldInfo) -> type[Strict] | None:
    """The model of a key that holds a table, None where it holds a value."""
    for option in (field.annotation, *typing.get_args(field.annotation)):
        if isinstance(option, type) and issubclass(option, Strict):
            return option
    return None


def unknown_key(table: type[Strict], key: str, name: str, found: object) -> Finding:
    """A key that the table doesn't know: what was probably meant."""
    if name.lower() in SECRET_KEYS:
        wanted = [known for known in table.model_fields if known.endswith("_file") and known != "ca_file"]
        instead = f"name that file with {wanted[0]}" if wanted else "leave it out"
        why = "secrets are read from files, never from here: settings are shown, copied and mailed"
        return Finding(key, "(not shown)", why, f"put it alone in a file of mode 600 and {instead}")
    if name.lower() in _STRENGTH_KEYS and "strength_trade_percent" in table.model_fields:
        return _ambiguous_strength(key, found)
    units = {known: unit_of(field) for known, field in table.model_fields.items() if unit_of(field)}
    guess = renamed_guess(name, found, units)
    if guess:
        return Finding(key, shown(found), "this key is not known", guess)
    near = nearest(name, table.model_fields)
    if near is not None:
        meaning = table.model_fields[near].description
        do = f"the nearest known key is {near}: {meaning}" if meaning else f"the nearest known key is {near}"
        return Finding(key, shown(found), "this key is not known", do)
    return Finding(key, shown(found), "this key is not known", f"known here: {', '.join(list(table.model_fields)[:30])}")


def _ambiguous_strength(key: str, found: object) -> Finding:
    if isinstance(found, int | float) and not isinstance(found, bool) and 0 < found <= 30:
        readings = f": {10 * found:g} g/L by volume (trade percent), {10 * found * (1 + 0.0138 * found):.0f} g/L by weight"
    else:
        readings = ""
    do = (
        "read the label or ask the seller, then write strength_trade_percent, or strength_weight_percent with density_kg_l, "
        "or strength_g_l"
    )
    return Finding(key, shown(found), f"a percentage of hypochlorite has more than one meaning{readings}", do)


def unit_of(field: FieldInfo) -> str:
    """Unit of a key, "" for texts and flags."""
    return str(_extra(field).get("unit", ""))


def accepted(field: FieldInfo) -> str:
    """What the key takes, in words."""
    extra = _extra(field)
    if "ge" in extra:
        unit = f" {extra['unit']}" if extra.get("unit") not in ("", "1", None) else ""
        return f"a number from {_plain(extra['ge'])} to {_plain(extra['le'])}{unit}"
    if "accepted" in extra:
        return str(extra["accepted"])
    choices = [str(item) for item in typing.get_args(field.annotation) if isinstance(item, str)]
    if choices:
        return ", ".join(f'"{choice}"' for choice in choices)
    names: tuple[tuple[Any, str], ...] = ((bool, "true or false"), (str, "a text"), (int, "a whole number"), (float, "a number"))
    return next((words for kind, words in names if field.annotation is kind), "a value of its kind")


def _plain(value: Any) -> str:
    return f"{value:g}" if isinstance(value, int | float) else str(value)


def _wrong_value(key: str, field: FieldInfo, kind: str, found: Any) -> Finding:
    extra = _extra(field)
    why = f"accepted is {accepted(field)}"
    is_number = isinstance(found, int | float) and not isinstance(found, bool)
    if kind in ("greater_than_equal", "less_than_equal") and is_number and abs(found) < 1e30:
        guess = unit_guess(float(found), str(extra.get("unit", "")), float(extra.get("ge", 0.0)), float(extra.get("le", 0.0)))
        return Finding(key, shown(found), f"{why}; {guess}" if guess else why, _meaning(field))
    if isinstance(found, str) and "ge" in extra:
        return Finding(
            key,
            shown(found),
            why,
            "write the number alone, without quotes; its unit is in the key, and a comma is a decimal point",
        )
    near = nearest(found, [str(item) for item in extra["choices"]]) if isinstance(found, str) and "choices" in extra else None
    if near is not None:
        return Finding(key, shown(found), why, f'the nearest is "{near}"')
    if not is_number and "ge" in extra and isinstance(found, bool):
        return Finding(key, shown(found), why, "write a number")
    return Finding(key, shown(found), why, _meaning(field))


def _meaning(field: FieldInfo) -> str:
    return f"it means: {field.description}" if field.description else ""


def _extra(field: FieldInfo) -> Mapping[str, Any]:
    return field.json_schema_extra if isinstance(field.json_schema_extra, dict) else {}
