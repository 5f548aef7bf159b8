"""Tables from the English of a message to another language. What a table lacks stays English: a gap must not hide a warning."""

from collections.abc import Mapping

from dosectl.texts.languages.de import GERMAN

TABLES: Mapping[str, Mapping[str, str]] = {"en": {}, "de": GERMAN}


def translated(english: str, language: str) -> str:
    """The words in a language; the English where the language or the words are not known."""
    return TABLES.get(language, {}).get(english, english)
