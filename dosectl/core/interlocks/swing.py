"""Whether the ORP electrode lives: half-hour means of settled flow that rise and fall by more than noise can.

A living electrode follows sun, feed, acid and temperature by several mV within days; a stuck one shows its own noise, which a
mean of 30 values narrows to some 0.4 mV at 2 mV noise, one of 24 to 0.41. So many are enough where the pump stops before the
half hour is over: a pump that runs half an hour at a time would never let it be heard. Not fewer: 48 means of 25 values of a
stuck electrode at 2 mV noise look like a move 0.1 times, of 20 values 0.4 times. Moves are dated by the flow clock, so that
nights without flow prove nothing.

`recent` = (last value taken [s], begin of the block [s], sum, count); `marks` = (low, high, flow time of the last rise,
of the last fall).
"""

from dataclasses import replace

from dosectl.core.evidence import Evidence
from dosectl.core.interlocks.guard import Memory
from dosectl.model.signals import SignalId, Status

SETTLED_S = 300.0
VALUE_EVERY_S = 55.0
BLOCK_S = 1800.0
VALUES_MIN = 10
STOPPED_MIN = 24  # values of a block that a stop ends
FADE = 0.02  # per block: a day of flow
NEVER_S = -1e12
UNMOVED = (1e9, -1e9, NEVER_S, NEVER_S)
"""Marks of a swing that has seen no value yet."""


def followed(memory: Memory, evidence: Evidence, signal: SignalId, step_mv: float) -> Memory:
    """The memory with a new value of the signal taken in, at most one a minute; the same object where there is none."""
    since_s = evidence.flow.since_s
    clock_s = evidence.clock_s
    if since_s is None or clock_s - since_s < SETTLED_S:
        return _stopped(memory, evidence.flow.clock_s, step_mv) if memory.recent else memory
    if memory.recent and clock_s - memory.recent[0] < VALUE_EVERY_S:
        return memory
    reading = evidence.readings.get(signal)
    value = None if reading is None else reading.number(Status.OUT_OF_SPEC)
    if value is None:
        return memory
    if not memory.recent:
        return replace(memory, recent=(clock_s, clock_s, value, 1.0))
    _, began_s, total, count = memory.recent
    recent = (clock_s, began_s, total + value, count + 1.0)
    if clock_s - began_s < BLOCK_S or count + 1.0 < VALUES_MIN:
        return replace(memory, recent=recent)
    mean = (total + value) / (count + 1.0)
    return replace(memory, recent=(), marks=_moved(memory.marks, mean, evidence.flow.clock_s, step_mv))


def _stopped(memory: Memory, flow_s: float, step_mv: float) -> Memory:
    """The memory where flow ended within a block: its mean counts if it is of enough values."""
    _, _, total, count = memory.recent
    return replace(
        memory, recent=(), marks=_moved(memory.marks, total / count, flow_s, step_mv) if count >= STOPPED_MIN else memory.marks
    )


def _moved(marks: tuple[float, ...], mean: float, flow_s: float, step_mv: float) -> tuple[float, ...]:
    if not marks:
        return (mean, mean, NEVER_S, NEVER_S)
    low, high, rise_s, fall_s = marks[:4]
    if mean - low >= step_mv:
        return (mean, mean, flow_s, fall_s, *marks[4:])
    if high - mean >= step_mv:
        return (mean, mean, rise_s, flow_s, *marks[4:])
    # Extremes fade, else the noise of weeks would add up to a move.
    low, high = low + FADE * (mean - low), high + FADE * (mean - high)
    return (min(low, mean), max(high, mean), rise_s, fall_s, *marks[4:])


def moved_both_ways(memory: Memory, flow_s: float, within_s: float) -> bool:
    """Whether it rose and fell within the last `within_s` of flow time."""
    return len(memory.marks) >= 4 and flow_s - memory.marks[2] <= within_s and flow_s - memory.marks[3] <= within_s
