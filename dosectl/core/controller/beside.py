"""What the probes showed of the water of each hand test of free chlorine, kept as long as the test: guards compare the two.

Means of half an hour of settled flow, as a single value is noise. A test is given the last one before it was entered; where that
is more than a day from when the water was taken, the next one, within a day too; else none: nobody knows what was read then.
"""

from collections.abc import Iterable
from dataclasses import dataclass, replace

from dosectl.core.evidence import Evidence
from dosectl.model.signals import SignalKind
from dosectl.model.water_tests import Beside, Quantity, WaterTest

SETTLED_S = 300.0
VALUE_EVERY_S = 55.0
BLOCK_S = 1800.0
VALUES_MIN = 10
APART_S_MAX = 86400.0


@dataclass(frozen=True, slots=True)
class Settled:
    """Means of the last half hour of settled flow that was complete; at_s : its end [plant clock]."""

    at_s: float
    orp_mv: float
    ph: float


@dataclass(frozen=True, slots=True)
class Kept:
    """The durable side: the last half hour, and what stood beside each test."""

    settled: Settled | None = None
    tests: tuple[Beside, ...] = ()


NOTHING = Kept()


@dataclass(frozen=True, slots=True)
class Gathering:
    """The half hour that runs: its begin and its last value [plant clock], sums, count."""

    began_s: float
    last_s: float
    orp_mv: float = 0.0
    ph: float = 0.0
    count: int = 0


def gathered(before: Gathering | None, evidence: Evidence) -> tuple[Gathering | None, Settled | None]:
    """The running half hour with a value more, at most one a minute; and its means where it is complete."""
    since_s, clock_s = evidence.flow.since_s, evidence.clock_s
    if since_s is None or clock_s - since_s < SETTLED_S:
        return None, None
    if before is not None and clock_s - before.last_s < VALUE_EVERY_S:
        return before, None
    orp_mv, ph = evidence.followed(SignalKind.ORP), evidence.followed(SignalKind.PH)
    if orp_mv is None or ph is None:
        return None, None
    running = before if before is not None else Gathering(clock_s, clock_s)
    running = Gathering(running.began_s, clock_s, running.orp_mv + orp_mv, running.ph + ph, running.count + 1)
    if clock_s - running.began_s < BLOCK_S or running.count < VALUES_MIN:
        return running, None
    return None, Settled(clock_s, running.orp_mv / running.count, running.ph / running.count)


def kept(before: Kept, tests: tuple[WaterTest, ...], added: bool, settled: Settled | None, clock_s: float) -> Kept:
    """With what belongs beside the tests; the same object where nothing is new.

    settled : a half hour that became complete in this step
    """
    last = settled if settled is not None else before.settled
    if not added and settled is None:
        return before
    beside = before.tests
    if last is not None:
        known = {item.request for item in beside}
        new = tuple(
            Beside(test.request, last.at_s, last.orp_mv, last.ph)
            for test in _young(tests, clock_s)
            if test.request not in known and abs(test.taken_s - last.at_s) <= APART_S_MAX
        )
        if new:
            there = {test.request for test in tests}
            beside = (*(item for item in beside if item.request in there), *new)
    return replace(before, settled=last, tests=beside)


def _young(tests: tuple[WaterTest, ...], clock_s: float) -> Iterable[WaterTest]:
    """Tests of free chlorine whose half hour may be the last or is yet to come."""
    return (t for t in tests if t.quantity is Quantity.FREE_CHLORINE and t.taken_s >= clock_s - 2.0 * APART_S_MAX)
