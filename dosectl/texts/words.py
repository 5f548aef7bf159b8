"""All words of the step by code, from the rooms' own lists."""

from collections.abc import Iterable, Mapping

from dosectl.core.alarms.causes import CAUSES
from dosectl.core.control.reasons import REASONS as CONTROL
from dosectl.core.controller.dispensing import REASONS as DISPENSING
from dosectl.core.interlocks.arbiter import REASONS as ARBITER
from dosectl.core.interlocks.registry import KINDS as GUARDS
from dosectl.core.probes import REASONS as PROBES
from dosectl.core.requests import ANSWERS
from dosectl.model.reasons import Code, ReasonKind

CORE: tuple[ReasonKind, ...] = (
    *PROBES,
    *(reason for guard in GUARDS for reason in guard.reasons),
    *ARBITER,
    *CONTROL,
    *DISPENSING,
    *ANSWERS,
    *CAUSES,
)


def by_code(more: Iterable[ReasonKind] = ()) -> Mapping[Code, str]:
    """Words by code: the step's and those of the adapters given in `more`.

    Raises ValueError where one code has two different sentences: a record must mean the same everywhere.
    """
    words: dict[Code, str] = {}
    for kind in (*CORE, *more):
        if words.setdefault(kind.code, kind.words) != kind.words:
            raise ValueError(f"{kind.code}: declared twice with different words")
    return words
