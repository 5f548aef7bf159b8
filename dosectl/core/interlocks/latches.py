"""What latches mean beyond their own verdict."""

from collections.abc import Mapping

from dosectl.core.interlocks.guard import Doubting, Guard, Memory, Withholding, memory_key
from dosectl.model.reasons import Code
from dosectl.model.signals import SignalId
from dosectl.model.water_tests import WaterTest

NONE: frozenset[SignalId] = frozenset()


def mute(guards: tuple[Guard, ...], memories: Mapping[str, Memory]) -> frozenset[SignalId]:
    """Signals that a standing latch found without an answer: estimate and control must not go by what they show."""
    if not any(memory.latched for memory in memories.values()):
        return NONE
    # Which guards are latched is asked first: to ask a guard for its kind costs far more, and a latch stands for days.
    return frozenset(
        guard.mute_signal
        for guard in guards
        if (memory := memories.get(memory_key(guard))) is not None and memory.latched is not None and isinstance(guard, Doubting)
    )


def withheld(guards: tuple[Guard, ...], memories: Mapping[str, Memory], tests: tuple[WaterTest, ...]) -> Mapping[str, Code]:
    """Memory keys of latches that no person may clear yet, and what has to be shown first. A guard that times its cause over
    days would not latch again at once: without this its latch ended while the cause stood."""
    found: dict[str, Code] = {}
    for guard in guards:
        key = memory_key(guard)
        memory = memories.get(key)
        if memory is not None and memory.latched is not None and isinstance(guard, Withholding):
            missing = guard.still_to_show(memory, tests)
            if missing is not None:
                found[key] = missing
    return found
