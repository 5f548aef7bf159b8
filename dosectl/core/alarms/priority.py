"""Priority from what happens if nobody acts and how long that takes: one matrix, so that no row can plead for itself.

The method is that of ISA-18.2 and EEMUA 191 (from memory, unchecked against the texts); classes and times are those of a pool.
"""

from collections.abc import Mapping
from enum import Enum, IntEnum, StrEnum


class Priority(IntEnum):
    """From the consequence and the time to respond. A notice is no alarm: it is only shown."""

    NOTICE = 0
    LOW = 1
    MEDIUM = 2
    HIGH = 3
    CRITICAL = 4


class Harm(StrEnum):
    """The class of the consequence if nobody acts."""

    HURT = "someone may be hurt"
    UNFIT = "water unfit to swim"
    DAMAGE = "plant damage"
    STOPPED = "dosing stopped, water still good"
    UPKEEP = "upkeep"


class Within(Enum):
    """The time to respond."""

    HOUR = "< 1 h"
    HALF_DAY = "1 to 12 h"
    TWO_DAYS = "12 to 48 h"
    LONGER = "> 48 h"


_C, _H, _M, _L, _N = Priority.CRITICAL, Priority.HIGH, Priority.MEDIUM, Priority.LOW, Priority.NOTICE
_MATRIX: Mapping[Harm, tuple[Priority | None, ...]] = {
    Harm.HURT: (_C, _C, _H, _H),
    Harm.UNFIT: (_H, _H, _M, _L),
    Harm.DAMAGE: (_H, _H, _M, _L),
    Harm.STOPPED: (_M, _M, _M, _L),
    Harm.UPKEEP: (None, _L, _L, _N),
}


def priority_of(harm: Harm, within: Within) -> Priority:
    """The matrix. Raises ValueError where it has no entry: upkeep is never a matter of an hour."""
    found = _MATRIX[harm][list(Within).index(within)]
    if found is None:
        raise ValueError(f"{harm.value} within {within.value} is no combination of the list")
    return found
