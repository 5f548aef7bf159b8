"""How guards phrase what they answer: denials, latches, the moment a state began."""

import math
from dataclasses import replace
from datetime import timedelta

from dosectl.core.evidence import Evidence
from dosectl.core.interlocks.guard import ITSELF, PERSON, Memory
from dosectl.model.instant import Instant
from dosectl.model.reasons import Code, Reason
from dosectl.model.signals import SignalId
from dosectl.model.verdicts import Denial


def moment(evidence: Evidence, at_s: float | None) -> Instant:
    """The instant of a plant-clock time [s] as today's clocks show it; now where it is not known."""
    if at_s is None or at_s == evidence.clock_s or not math.isfinite(at_s):
        return evidence.now
    ago_s = evidence.clock_s - at_s
    now = evidence.now
    return Instant(now.mono_s - ago_s, now.utc - timedelta(seconds=ago_s), now.boot)


def utc_text(evidence: Evidence, at_s: float) -> str:
    """A plant-clock time [s] as ISO UTC to the minute, rounded up, for facts named `*_utc`."""
    utc = moment(evidence, at_s).utc + timedelta(seconds=59.5)
    return utc.strftime("%Y-%m-%dT%H:%MZ")


def deny(guard: Code, why: Reason, clears_by: Code = ITSELF) -> Denial:
    """A denial that ends with its cause."""
    return Denial(guard, why, False, clears_by)


def latch(guard: Code, memory: Memory, why: Reason, clears_by: Code = PERSON) -> tuple[Denial, Memory]:
    """A latched denial; the reason that latched first is kept."""
    if memory.latched is None:
        memory = replace(memory, latched=why)
    return standing(guard, memory, clears_by), memory


def standing(guard: Code, memory: Memory, clears_by: Code = PERSON) -> Denial:
    """The denial of a latch that stands. Raises ValueError where none does."""
    if memory.latched is None:
        raise ValueError(f"{guard}: no latch stands")
    return Denial(guard, memory.latched, True, clears_by)


def switch_is(evidence: Evidence, signal: SignalId) -> bool | None:
    """A switch signal's state, None while it can't be trusted."""
    reading = evidence.readings.get(signal)
    return None if reading is None else reading.switch()
