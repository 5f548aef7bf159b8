"""JSON payloads: strict reading, and RFC 6901 pointers into them."""

import json
from functools import lru_cache
from typing import Any, Final

MISSING: Final = object()
"""What `resolve` gives where nothing is at the pointer."""


class NotFinite(ValueError):
    """The document holds NaN or an infinity, which JSON does not have."""


def _constant(name: str) -> Any:
    raise NotFinite(name)


def _unique(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found = dict(pairs)
    if len(found) != len(pairs):
        raise ValueError("a name stands twice in one object")  # which of the two is meant, nobody knows
    return found


def parse(text: str) -> Any:
    """The document. Raises NotFinite, ValueError, or RecursionError for one that is nested too deeply."""
    return json.loads(text, parse_constant=_constant, object_pairs_hook=_unique)


@lru_cache(maxsize=512)
def _tokens(pointer: str) -> tuple[str, ...] | None:
    if pointer == "":
        return ()
    if not pointer.startswith("/"):
        return None
    return tuple(token.replace("~1", "/").replace("~0", "~") for token in pointer[1:].split("/"))


def resolve(document: Any, pointer: str) -> Any:
    """The value at the pointer, or MISSING (also for a text that is no pointer)."""
    tokens = _tokens(pointer)
    if tokens is None:
        return MISSING
    for token in tokens:
        if isinstance(document, dict) and token in document:
            document = document[token]
        elif isinstance(document, list) and _is_index(token) and int(token) < len(document):
            document = document[int(token)]
        else:
            return MISSING
    return document


def _is_index(token: str) -> bool:
    return token.isascii() and token.isdigit() and len(token) < 10 and (token == "0" or token[0] != "0")
