"""Tables from the English of a message to another language. What a table lacks stays English: a gap must not hide a warning."""

from collections.abc import Mapping
from string import Formatter

from dosectl.texts.languages.de import GERMAN

TABLES: Mapping[str, Mapping[str, str]] = {"en": {}, "de": GERMAN}


def translated(english: str, language: str) -> str:
    """The words in a language; the English where the language or the words are not known."""
    return TABLES.get(language, {}).get(english, english)


DECIMAL_COMMA = frozenset({"de"})


def figure(text: str, language: str) -> str:
    """A number's text with the language's decimal sign."""
    return text.replace(".", ",") if language in DECIMAL_COMMA else text


def filled(english: str, language: str, **places: str) -> str:
    """The translated words with their places filled; a value's own braces stay as they are."""
    return "".join(
        text + ("" if name is None else places.get(name, "?"))
        for text, name, _, _ in Formatter().parse(translated(english, language))
    )
