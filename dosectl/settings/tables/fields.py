"""How a key of the settings file is declared, so that its errors and its line in the reference come from the same words."""

from typing import Any

from pydantic import BaseModel, ConfigDict, Field

REQUIRED: Any = ...
ID_PATTERN = r"^[a-z][a-z0-9_]{0,30}$"


class Strict(BaseModel):
    """A table of the file: nothing is converted, nothing unknown is let in, nothing changes later."""

    model_config = ConfigDict(strict=True, extra="forbid", frozen=True, allow_inf_nan=False)


def number(default: Any = REQUIRED, *, ge: float, le: float, unit: str, why: str) -> Any:
    """A number with hard bounds, both inclusive; `why` is the meaning of the key and the source or reason of its default."""
    return Field(
        default, ge=ge, le=le, allow_inf_nan=False, description=why, json_schema_extra={"unit": unit, "ge": ge, "le": le}
    )


def text(default: Any = REQUIRED, *, why: str, pattern: str | None = None, accepted: str = "a text", longest: int = 300) -> Any:
    """A text of at most `longest` characters; `accepted` is what an error says of it."""
    return Field(
        default,
        min_length=1 if default is REQUIRED else None,
        max_length=longest,
        pattern=pattern,
        description=why,
        json_schema_extra={"accepted": accepted},
    )


def identifier(default: Any = REQUIRED, *, why: str) -> Any:
    """A name of our own: it becomes part of topics, file names and reasons, so its letters are few."""
    return text(
        default, why=why, pattern=ID_PATTERN, accepted="a to z, 0 to 9 and _, beginning with a letter, at most 31 characters"
    )


def one_of(default: Any, *choices: str, why: str) -> Any:
    """A text out of a few."""
    listed = ", ".join(f'"{choice}"' for choice in choices)
    pattern = "^(" + "|".join(choice.replace(".", r"\.") for choice in choices) + ")$"
    return Field(default, pattern=pattern, description=why, json_schema_extra={"accepted": listed, "choices": list(choices)})


def flag(default: Any = False, *, why: str) -> Any:
    """true or false."""
    return Field(default, description=why, json_schema_extra={"accepted": "true or false"})


def words(default: tuple[str, ...], *, why: str, fewest: int = 1) -> Any:
    """A short list of texts."""
    return Field(
        default_factory=lambda: list(default),
        min_length=fewest,
        max_length=12,
        description=why,
        json_schema_extra={"accepted": f"a list of {fewest} to 12 texts"},
    )


def part(default: Any = None, *, why: str) -> Any:
    """A table inside a table."""
    return Field(default, description=why, json_schema_extra={"accepted": "a table"})
