"""On which side of a limit a slow quantity lies: temperature, salt, level, cover.

Such a quantity can't change sides within the time a message is missing, so its last known good side holds while the reading is
lost, for as long as the guard says that the quantity needs to change; then, as before the first reading, it is not known, and
that counts as the bad side. Memory: count = UNSEEN, FINE or BAD (durable); since_s = when a change of side began; marks of FINE =
(until when the good side holds unheard,), of BAD = (when it was seen first,) [plant clock]. Lost once more after a restart, the
same moment holds: a daemon that restarts each day gives a dead sensor no new time.
"""

from dataclasses import replace

from dosectl.core.interlocks.guard import Memory

UNSEEN = 0
FINE = 1
BAD = 2
HOUR_S = 3600.0
DAY_S = 86400.0


def sided(memory: Memory, clock_s: float, now: int | None, trip_s: float, clear_s: float, hold_s: float) -> Memory:
    """The memory with the side seen `now` (None: not known) once it has lasted `trip_s` to BAD or `clear_s` back to FINE [s].

    hold_s : how long a good side is believed unheard, reckoned at the first step without it [s]
    """
    if now is None:
        return _unheard(memory, clock_s, hold_s)
    if memory.count == FINE and memory.marks:
        memory = replace(memory, marks=())
    if now == memory.count:
        return memory if memory.since_s is None else replace(memory, since_s=None)
    if memory.count == UNSEEN:
        return replace(memory, count=now, since_s=None, marks=())
    needed_s = trip_s if now == BAD else clear_s
    since_s = clock_s if memory.since_s is None else memory.since_s
    if clock_s - since_s >= needed_s:
        return replace(memory, count=now, since_s=None, marks=(clock_s,) if now == BAD else ())
    return memory if memory.since_s is not None else replace(memory, since_s=since_s)


def _unheard(memory: Memory, clock_s: float, hold_s: float) -> Memory:
    if memory.since_s is not None:
        memory = replace(memory, since_s=None)
    if memory.count != FINE:
        return memory
    if not memory.marks:
        return replace(memory, marks=(clock_s + hold_s,))
    return memory if clock_s < memory.marks[0] else replace(memory, count=UNSEEN, marks=())


def steady(memory: Memory, now: int | None) -> bool:
    """Nothing to do: the good side is seen as before."""
    return memory.count == FINE and now == FINE and memory.since_s is None and not memory.marks
