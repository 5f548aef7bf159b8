"""Memories over a change of settings: what a guard knew goes on with the guards that bind the same feeders."""

from collections.abc import Mapping
from dataclasses import replace

from dosectl.core.interlocks.guard import Guard, Memory, memory_key


def inherited(guards: tuple[Guard, ...], memories: Mapping[str, Memory]) -> dict[str, Memory]:
    """The kept memories under the keys of these guards.

    A memory whose guard is gone goes to every guard of the same code that binds any of its feeders: a feeder added, removed or
    moved in the file must not take a latched trip away. One that finds no heir keeps its key, and while it is latched the
    arbiter denies everything for it.
    """
    owned = {memory_key(guard) for guard in guards}
    after = {key: memory for key, memory in memories.items() if key in owned}
    for key, memory in memories.items():
        if key in owned:
            continue
        code, _, bound = key.partition(":")
        feeders = set(bound.split(","))
        heirs = [memory_key(guard) for guard in guards if guard.code == code and feeders & set(guard.feeders)]
        for heir in heirs:
            have = after.get(heir)
            if have is None:
                after[heir] = memory
            elif have.latched is None and memory.latched is not None:
                after[heir] = replace(have, latched=memory.latched)
        if not heirs:
            after[key] = memory
    return after
