"""On which side of a limit a slow quantity lies: temperature, salt, level, cover.

Such a quantity can't change sides within the time a message is missing, so its last known side holds while the reading is lost;
before the first reading it counts as the bad side. Memory: count = UNSEEN, FINE or BAD (durable); since_s = when a
change of side began.
"""

from dataclasses import replace

from dosectl.core.interlocks.guard import Memory

UNSEEN = 0
FINE = 1
BAD = 2


def sided(memory: Memory, clock_s: float, now: int | None, trip_s: float, clear_s: float) -> Memory:
    """The memory with the side seen `now` (None: not known) once it has lasted `trip_s` to BAD or `clear_s` back to FINE [s]."""
    if now is None or now == memory.count:
        return memory if memory.since_s is None else replace(memory, since_s=None)
    if memory.count == UNSEEN:
        return replace(memory, count=now, since_s=None)
    needed_s = trip_s if now == BAD else clear_s
    since_s = clock_s if memory.since_s is None else memory.since_s
    if clock_s - since_s >= needed_s:
        return replace(memory, count=now, since_s=None, marks=(clock_s,) if now == BAD else ())
    return memory if memory.since_s is not None else replace(memory, since_s=since_s)
