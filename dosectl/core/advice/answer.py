"""The shape of an answer. Sentences are codes with facts, as everywhere; the edge fills them in."""

from dataclasses import dataclass
from enum import StrEnum

from dosectl.model.reasons import Fact, Facts, ReasonKind

Z95 = 1.96


class Weight(StrEnum):
    """How a sentence is to be read."""

    ANSWER = "answer"
    WARNING = "warning"
    NOTE = "note"


@dataclass(frozen=True, slots=True)
class Said:
    """One sentence with its facts."""

    kind: ReasonKind
    facts: Facts
    weight: Weight


@dataclass(frozen=True, slots=True)
class Figure:
    """A number of the answer. `sigma` is one standard deviation in the same unit, None where it is not a measured thing."""

    name: str
    value: float
    unit: str
    sigma: float | None = None


@dataclass(frozen=True, slots=True)
class Moved:
    """What an addition does to one quantity: before, once mixed, and once added chlorine has been used (None: no difference)."""

    name: str
    unit: str
    before: float
    mixed: float
    settled: float | None = None


@dataclass(frozen=True, slots=True)
class Worked:
    """A step of the working."""

    what: str
    value: float
    unit: str
    source: str = ""


@dataclass(frozen=True, slots=True)
class Course:
    """A predicted curve over an amount: what is foretold after so much of something.

    what : of the rows' first figure, with its unit; columns : of the others; a None is not told
    """

    what: str
    columns: tuple[str, ...]
    rows: tuple[tuple[float | None, ...], ...]


@dataclass(frozen=True, slots=True)
class Answer:
    """One answered question.

    says : the answer first, then warnings and notes
    curve : (hours from now, likely, slow) free chlorine [mg/L], where waiting is part of the answer
    safety : must be shown whenever the answer is
    courses : predicted curves over an amount, such as water replaced
    """

    question: str
    says: tuple[Said, ...]
    figures: tuple[Figure, ...] = ()
    moves: tuple[Moved, ...] = ()
    curve: tuple[tuple[float, float, float], ...] = ()
    working: tuple[Worked, ...] = ()
    safety: tuple[ReasonKind, ...] = ()
    courses: tuple[Course, ...] = ()

    def figure(self, name: str) -> Figure:
        """The number of that name. Raises KeyError where this answer has none."""
        for item in self.figures:
            if item.name == name:
                return item
        raise KeyError(name)

    def codes(self) -> tuple[str, ...]:
        """Codes of the sentences, in order."""
        return tuple(said.kind.code for said in self.says)


def answer(kind: ReasonKind, **facts: Fact) -> Said:
    """The answer itself."""
    return Said(kind, tuple(facts.items()), Weight.ANSWER)


def warning(kind: ReasonKind, **facts: Fact) -> Said:
    """What speaks against it, or makes it doubtful."""
    return Said(kind, tuple(facts.items()), Weight.WARNING)


def note(kind: ReasonKind, **facts: Fact) -> Said:
    """What else to know."""
    return Said(kind, tuple(facts.items()), Weight.NOTE)


_LARGE = {"mL": "L", "g": "kg"}


def measured(amount: float, unit: str) -> str:
    """An amount as a person measures it out: three digits at most, litres and kilograms from a thousand on."""
    if unit == "h":
        return f"{amount:.1f} h" if amount < 100.0 else f"{amount:.0f} h"
    if amount >= 1000.0 and unit in _LARGE:
        amount, unit = amount / 1000.0, _LARGE[unit]
    decimals = 0 if amount >= 100.0 or (amount >= 10.0 and unit in _LARGE) else 1 if amount >= 10.0 else 2
    text = f"{amount:.{decimals}f}"
    return f"{text.rstrip('0').rstrip('.') if '.' in text else text} {unit}"
