"""Ways in which people hold a pool today, and one that knows everything. Each runs only while water flows.

All of them keep pH alike, from the same probe, trimmed at each pH test, so that what is compared is chlorine alone. What each may
be tuned by stands in its `Tuning`; `tune.py` chooses those on seeds that the comparison does not use.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from math import log10
from typing import Protocol

from dosectl.pool_model.plant import PoolPlant
from tests.benchmarks.control.count import target_mg_l
from tests.benchmarks.control.owner import Noted
from tests.benchmarks.control.shown import Shown

PH_TARGET = 7.5
SETTLED_H = 0.25  # until the electrodes have seen the pool's water
LEAST_MG_L = 0.2  # what drops can tell from nothing
HALF = 0.5  # of the output holds about a July day, by how an installer sizes a feeder (`pools.py`)


@dataclass(frozen=True, slots=True)
class Sight:
    """What a way may look at. `flow`: water moves; `hour`: since the pump started; the plant itself is for the oracle only."""

    utc: datetime
    orp_mv: float
    ph: float
    flow: bool
    flow_h: float
    plant: PoolPlant


class Way(Protocol):
    """A way of control. `level` 0..1 of the chlorine feeder's output for the next `dt_h`."""

    def told(self, note: Noted) -> None:
        """A test's result is known now."""
        ...

    def level(self, sight: Sight, dt_h: float) -> float: ...


@dataclass(frozen=True, slots=True)
class Tuning:
    """gain : of a nudge, or of a proportional band [1/mV]; integral : [1/(mV h)]; slope : mV a decade by which a set point is
    trimmed; share : of the trim used at a test after the first; set_mv : fixed set point, or until the first test
    goal : times the target that is aimed at; start : times the first level; trust : in the usual level as the first one, in the
    logarithm, the rest in half of the output
    """

    gain: float = 0.0
    integral: float = 0.0
    slope: float = 40.0
    share: float = 1.0
    set_mv: float = 650.0
    start: float = 1.0
    trust: float = 1.0
    goal: float = 1.0


class Base:
    """Holds the owner's newest stabiliser, and so the target they know. `usual`: share of the output over all hours of flow that
    held the pool in the fortnight before; dosectl is told the same as a daily amount."""

    def __init__(self, tuning: Tuning, stabiliser_mg_l: float, usual: float) -> None:
        self.tuning = tuning
        level = tuning.start * max(0.03, usual) ** tuning.trust * HALF ** (1.0 - tuning.trust)
        self.first_level = min(1.0, max(0.03, level))
        self.goal_mg_l = tuning.goal * target_mg_l(stabiliser_mg_l)

    def told(self, note: Noted) -> None:
        if note.quantity == "stabiliser":
            self.goal_mg_l = self.tuning.goal * target_mg_l(note.value)


class FixedDose(Base):
    """The same share of the output through all pump hours, never touched again."""

    def level(self, sight: Sight, dt_h: float) -> float:
        return self.first_level if sight.flow else 0.0


class Timer(Base):
    """As the fixed dose, nudged at each chlorine test by the ratio of target to result."""

    def __init__(self, tuning: Tuning, stabiliser_mg_l: float, usual: float) -> None:
        super().__init__(tuning, stabiliser_mg_l, usual)
        self._level = self.first_level

    def told(self, note: Noted) -> None:
        super().told(note)
        if note.quantity == "free_chlorine":
            change = self.tuning.gain * log10(self.goal_mg_l / max(LEAST_MG_L, note.value))
            self._level = min(1.0, max(0.03, self._level * 10.0 ** min(0.5, max(-0.5, change))))

    def level(self, sight: Sight, dt_h: float) -> float:
        return self._level if sight.flow else 0.0


class OrpSwitch(Base):
    """On below a fixed set point, off five millivolts above it."""

    def __init__(self, tuning: Tuning, stabiliser_mg_l: float, usual: float) -> None:
        super().__init__(tuning, stabiliser_mg_l, usual)
        self.set_mv = tuning.set_mv
        self._on = False
        self.shown = Shown()

    def level(self, sight: Sight, dt_h: float) -> float:
        if not sight.flow or sight.flow_h < SETTLED_H:
            return 0.0
        self.seen(sight)
        self._on = sight.orp_mv < self.set_mv + (5.0 if self._on else 0.0)
        return 1.0 if self._on else 0.0

    def seen(self, sight: Sight) -> None:
        self.shown.add(sight.utc, sight.orp_mv)


class OrpSwitchTrimmed(OrpSwitch):
    """On/off with the set point trimmed at each chlorine test, so that the reading of then would mean the target.

    The first trim is a whole one, as who commissions a controller does it. A test of (next to) nothing turns the set point up by
    what a test of `LEAST_MG_L` would, never down: an electrode in dead water stands far below its line.
    """

    def __init__(self, tuning: Tuning, stabiliser_mg_l: float, usual: float) -> None:
        super().__init__(tuning, stabiliser_mg_l, usual)
        self._waiting: list[Noted] = []
        self.trims = 0

    def told(self, note: Noted) -> None:
        super().told(note)
        if note.quantity == "free_chlorine" and not self._trimmed(note):
            self._waiting.append(note)  # no water flowed yet since the owner's first test

    def seen(self, sight: Sight) -> None:
        super().seen(sight)
        self._waiting = [note for note in self._waiting if not self._trimmed(note)]

    def _trimmed(self, note: Noted) -> bool:
        shown_mv = self.shown.at(note.taken_utc)
        if shown_mv is None:
            return False
        meant = shown_mv + self.tuning.slope * log10(self.goal_mg_l / max(LEAST_MG_L, note.value))
        if note.value <= LEAST_MG_L:
            meant = max(meant, self.set_mv)
        self.set_mv += (self.tuning.share if self.trims else 1.0) * (meant - self.set_mv)
        self.trims += 1
        return True


class OrpPi(OrpSwitchTrimmed):
    """Proportional and integral on ORP, set point trimmed at each chlorine test; the integral starts at the usual level and
    stands still while saturated."""

    def __init__(self, tuning: Tuning, stabiliser_mg_l: float, usual: float) -> None:
        super().__init__(tuning, stabiliser_mg_l, usual)
        self._integral = self.first_level

    def level(self, sight: Sight, dt_h: float) -> float:
        if not sight.flow or sight.flow_h < SETTLED_H:
            return 0.0
        self.seen(sight)
        error = self.set_mv - sight.orp_mv
        asked = self.tuning.gain * error + self._integral
        if 0.0 < asked < 1.0 or (asked >= 1.0 and error < 0.0) or (asked <= 0.0 and error > 0.0):
            self._integral = min(1.0, max(0.0, self._integral + self.tuning.integral * error * dt_h))
        return min(1.0, max(0.0, self.tuning.gain * error + self._integral))


class Oracle(Base):
    """Knows the true chlorine, the true stabiliser, the loss of this moment and the pump's hours; holds the day's mean at the
    target: a little below it in the morning, as much above it in the evening."""

    def __init__(self, tuning: Tuning, stabiliser_mg_l: float, output_mg_l_h: float = 1.0, flow_h: float = 12.0) -> None:
        super().__init__(tuning, stabiliser_mg_l, 0.0)
        self._output_mg_l_h = output_mg_l_h
        self._flow_h = flow_h
        self._night_mg_l = 0.0
        self._at_stop: float | None = None

    def level(self, sight: Sight, dt_h: float) -> float:
        truth = sight.plant.truth()
        if not sight.flow:
            if self._at_stop is None:
                self._at_stop = truth.free_chlorine_mg_l
            self._night_mg_l = max(0.0, self._at_stop - truth.free_chlorine_mg_l)
            return 0.0
        self._at_stop = None
        goal = target_mg_l(truth.cya_mg_l)
        swing = min(self._night_mg_l, 0.4 * goal)
        aim = goal + swing * (min(1.0, sight.flow_h / self._flow_h) - 0.5)
        rate = truth.loss_mg_l_day / 24.0 + (aim - truth.free_chlorine_mg_l) / 0.75
        return min(1.0, max(0.0, rate / self._output_mg_l_h))


class AcidByProbe:
    """The common pH keeper of all but dosectl: short doses above 7.55, half an hour apart, the probe trimmed at each test."""

    def __init__(self) -> None:
        self._offset = 0.0
        self._rest_h = 0.0
        self._left_h = 0.0
        self._shown = Shown()
        self._waiting: list[Noted] = []
        self.trims = 0

    def told(self, note: Noted) -> None:
        if note.quantity == "ph" and not self._trimmed(note):
            self._waiting.append(note)

    def _trimmed(self, note: Noted) -> bool:
        shown = self._shown.at(note.taken_utc)
        if shown is None:
            return False
        self._offset += 0.4 * (note.value - shown - self._offset)
        self.trims += 1
        return True

    def level(self, sight: Sight, dt_h: float) -> float:
        if not sight.flow or sight.flow_h < SETTLED_H:
            self._left_h = 0.0
            return 0.0
        self._shown.add(sight.utc, sight.ph)
        self._waiting = [note for note in self._waiting if not self._trimmed(note)]
        self._rest_h -= dt_h
        if self._left_h > 0.0:
            self._left_h -= dt_h
            return 1.0
        if self._rest_h <= 0.0 and sight.ph + self._offset > PH_TARGET + 0.05:
            self._rest_h, self._left_h = 0.5, dt_h
        return 0.0


WAYS: Mapping[str, type[FixedDose | Timer | OrpSwitch | OrpSwitchTrimmed | OrpPi]] = {
    "fixed dose": FixedDose,
    "timer": Timer,
    "orp on/off": OrpSwitch,
    "orp on/off trimmed": OrpSwitchTrimmed,
    "orp pi trimmed": OrpPi,
}
