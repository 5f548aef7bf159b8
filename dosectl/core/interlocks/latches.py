"""What latches mean beyond their own verdict."""

from collections.abc import Mapping

from dosectl.core.interlocks.guard import Doubting, Guard, Memory, memory_key
from dosectl.model.signals import SignalId

NONE: frozenset[SignalId] = frozenset()


def mute(guards: tuple[Guard, ...], memories: Mapping[str, Memory]) -> frozenset[SignalId]:
    """Signals that a standing latch found without an answer: estimate and control must not go by what they show."""
    if not any(memory.latched for memory in memories.values()):
        return NONE
    return frozenset(
        guard.mute_signal
        for guard in guards
        if isinstance(guard, Doubting) and (memory := memories.get(memory_key(guard))) is not None and memory.latched is not None
    )
