"""Why something was decided: a stable code with facts. The sentence is made at the edge, from the kind's words."""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import NewType

from dosectl.model.instant import Instant

Code = NewType("Code", str)
"""Dotted, stable, never reused: `flow.unproven`, `acid.no_response`."""

Fact = float | int | bool | str
Facts = tuple[tuple[str, Fact], ...]
"""A tuple, not a dict: frozen to the bottom, order kept."""


@dataclass(frozen=True, slots=True)
class Reason:
    """A code with the facts that made it true, and since when."""

    code: Code
    facts: Facts
    since: Instant

    def fact(self, name: str) -> Fact | None:
        """The named fact, or None where this reason has none of that name."""
        for key, value in self.facts:
            if key == name:
                return value
        return None


@dataclass(frozen=True, slots=True)
class ReasonKind:
    """Declares a code with its English words; lives in the file of the guard, probe or request that gives it.

    words : a sentence for a person with `{fact}` places (str.format; every place must be a fact of the reason;
        `{since}` is filled by the renderer): what, since when, effect, what to do.
    """

    code: Code
    words: str

    def because(self, since: Instant, **facts: Fact) -> Reason:
        """A reason of this kind, with its facts in the order given."""
        return Reason(self.code, tuple(facts.items()), since)


@dataclass(frozen=True, slots=True)
class Event:
    """Something that happened and belongs in the record."""

    code: Code
    at: Instant
    facts: Facts


def facts_text(facts: Facts) -> str:
    """Facts as `name=value` pairs for logs and tests, in order."""
    return " ".join(f"{name}={value}" for name, value in facts)


def codes(reasons: Iterable[Reason]) -> tuple[Code, ...]:
    """The codes of some reasons, in order."""
    return tuple(reason.code for reason in reasons)
