"""The settings reference: made from the same declarations as the errors, so it can't lag behind them."""

from collections.abc import Iterator
from typing import Any

from pydantic.fields import FieldInfo
from pydantic_core import PydanticUndefined

from dosectl.settings import rooms
from dosectl.settings.findings import shown
from dosectl.settings.tables.fields import Strict
from dosectl.settings.tables.file import FEEDER_TABLES, PLAIN_TABLES, SIGNAL_TABLES, room_models
from dosectl.settings.tables.notify import PersonTable
from dosectl.settings.tables.sections import Section
from dosectl.settings.tables.signal_kinds import shape_of
from dosectl.settings.tables.validation import accepted, table_of, unit_of

HEAD = """\
# Settings reference

Made from the code by `dosectl reference settings`; do not edit. The file is TOML. Every quantity has its unit in its key or in
the column "unit". A key that is not listed here is an error. A key without a default must be written.
"""


def reference_markdown(sections: tuple[Section, ...] | None = None) -> str:
    """Every table and key of the settings file as Markdown."""
    models = room_models(rooms.sections() if sections is None else sections)
    parts = [HEAD]
    for name, model in PLAIN_TABLES.items():
        parts += _table(name, model)
    parts += _table("notify.persons.<name>", PersonTable)
    parts.append("## Signals\n\nEach signal is a table `[signals.<name>]`; a name that is a kind needs no `kind`.\n")
    for kind, model in SIGNAL_TABLES.items():
        parts += _table(f'signals.<name>, kind = "{kind}"', model, shape_of(kind).words)
    parts.append("## Feeders\n\nEach feeder is a table `[feeders.<name>]`.\n")
    for feeder_kind, model in FEEDER_TABLES.items():
        parts += _table(f'feeders.<name>, kind = "{feeder_kind}"', model)
    parts.append("## Rooms\n\nNone of these needs to be written; every default has its source or reason.\n")
    for name, model in models.items():
        parts += _table(name, model)
    return "\n".join(parts).rstrip() + "\n"


def _table(name: str, model: type[Strict], words: str = "") -> Iterator[str]:
    below = {key: found for key, field in model.model_fields.items() if (found := table_of(field)) is not None}
    values = {key: field for key, field in model.model_fields.items() if key not in below}
    if values:
        about = words or (model.__doc__ or "").strip().splitlines()[0] if model.__doc__ or words else ""
        yield f"### `[{name}]`\n" + (f"\n{about}\n" if about and about != (Strict.__doc__ or "").strip() else "")
        yield "| key | default | accepted | unit | meaning |\n| --- | --- | --- | --- | --- |"
        for key, field in values.items():
            yield _row(key, field)
        yield ""
    for key, found in below.items():
        yield from _table(f"{name}.{key}", found)


def _row(key: str, field: FieldInfo) -> str:
    cells = (f"`{key}`", _default(field), _range(field), unit_of(field), field.description or "")
    return "| " + " | ".join(cell.replace("|", "\\|").replace("\n", " ") for cell in cells) + " |"


def _default(field: FieldInfo) -> str:
    if field.default_factory is not None:
        made: Any = field.get_default(call_default_factory=True, validated_data={})
        return f"`{shown(made)}`"
    if field.default is PydanticUndefined:
        return "**required**"
    return "" if field.default is None else f"`{shown(field.default)}`"


def _range(field: FieldInfo) -> str:
    extra = field.json_schema_extra if isinstance(field.json_schema_extra, dict) else {}
    return f"{extra['ge']:g} to {extra['le']:g}" if "ge" in extra else accepted(field)
