"""A reading outside its bounds: trips at once, clears after a time well inside, and stands if the reading is then lost.

Memory: count = 1 while tripped, marks[0] = plant clock of the trip, until_s = when it clears if it stays inside.
"""

from dataclasses import dataclass, replace

from dosectl.core.evidence import Evidence
from dosectl.core.interlocks.guard import Memory
from dosectl.model.signals import SignalId, Status
from dosectl.model.water_tests import Quantity


@dataclass(frozen=True, slots=True)
class Bounds:
    """low, high, deadband : in the signal's unit; clear_s : time inside the deadband [s]; test : the hand test that ends
    a lost trip."""

    low: float
    high: float
    deadband: float
    clear_s: float
    test: Quantity


def outside(evidence: Evidence, memory: Memory, signal: SignalId, bounds: Bounds) -> tuple[bool, float | None, Memory]:
    """Whether the trip stands, the value seen (None: lost or without flow), and the memory.

    Readings count only while flow is proven: standing water in the pipe is not the pool's.
    """
    tripped = memory.count > 0
    if not evidence.flow.proven:
        return tripped, None, memory
    reading = evidence.readings.get(signal)
    value = None if reading is None else reading.number(Status.OUT_OF_SPEC)
    if value is None:
        test = evidence.newest_test(bounds.test) if tripped else None
        if test is not None and test.taken_s > memory.marks[0] and bounds.low <= test.value <= bounds.high:
            return False, None, _calm(memory)
        return tripped, None, memory if memory.until_s is None else replace(memory, until_s=None)
    if value > bounds.high or value < bounds.low:
        if not tripped:
            memory = replace(memory, count=1, marks=(evidence.clock_s,), until_s=None)
        elif memory.until_s is not None:
            memory = replace(memory, until_s=None)
        return True, value, memory
    if not tripped:
        return False, value, memory
    if value > bounds.high - bounds.deadband or value < bounds.low + bounds.deadband:
        return True, value, memory if memory.until_s is None else replace(memory, until_s=None)
    if memory.until_s is None:
        return True, value, replace(memory, until_s=evidence.clock_s + bounds.clear_s)
    if evidence.clock_s >= memory.until_s:
        return False, value, _calm(memory)
    return True, value, memory


def _calm(memory: Memory) -> Memory:
    return replace(memory, count=0, marks=(), until_s=None)
