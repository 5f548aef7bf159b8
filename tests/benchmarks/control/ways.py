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

PH_TARGET = 7.5


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
    trimmed; share : of the trim used at a test; set_mv : fixed set point; start : first level
    """

    gain: float = 0.0
    integral: float = 0.0
    slope: float = 40.0
    share: float = 1.0
    set_mv: float = 690.0
    start: float = 0.5


class Base:
    """Holds the owner's newest stabiliser, and so the target they know."""

    def __init__(self, tuning: Tuning, stabiliser_mg_l: float) -> None:
        self.tuning = tuning
        self.goal_mg_l = target_mg_l(stabiliser_mg_l)

    def told(self, note: Noted) -> None:
        if note.quantity == "stabiliser":
            self.goal_mg_l = target_mg_l(note.value)


class FixedDose(Base):
    """The same share of the output through all pump hours, never touched again."""

    def level(self, sight: Sight, dt_h: float) -> float:
        return self.tuning.start if sight.flow else 0.0


class Timer(Base):
    """As the fixed dose, nudged at each chlorine test by the ratio of target to result."""

    def __init__(self, tuning: Tuning, stabiliser_mg_l: float) -> None:
        super().__init__(tuning, stabiliser_mg_l)
        self._level = tuning.start

    def told(self, note: Noted) -> None:
        super().told(note)
        if note.quantity == "free_chlorine":
            change = self.tuning.gain * log10(self.goal_mg_l / max(0.2, note.value))
            self._level = min(1.0, max(0.03, self._level * 10.0 ** min(0.5, max(-0.5, change))))

    def level(self, sight: Sight, dt_h: float) -> float:
        return self._level if sight.flow else 0.0


class OrpSwitch(Base):
    """On below a fixed set point, off five millivolts above it."""

    def __init__(self, tuning: Tuning, stabiliser_mg_l: float) -> None:
        super().__init__(tuning, stabiliser_mg_l)
        self.set_mv = tuning.set_mv
        self._on = False
        self._seen: dict[datetime, float] = {}

    def level(self, sight: Sight, dt_h: float) -> float:
        if not sight.flow or sight.flow_h < 0.25:
            return 0.0
        self.seen(sight)
        self._on = sight.orp_mv < self.set_mv + (5.0 if self._on else 0.0)
        return 1.0 if self._on else 0.0

    def seen(self, sight: Sight) -> None:
        """Remembers the reading, so that a test that is entered late is held against the reading of its own time."""
        self._seen[sight.utc] = sight.orp_mv
        if len(self._seen) > 6000:
            for old in list(self._seen)[:3000]:
                del self._seen[old]

    def trim(self, note: Noted) -> None:
        """Moves the set point so that the reading at the test would mean the target."""
        near = [mv for at, mv in self._seen.items() if abs((at - note.taken_utc).total_seconds()) < 1200.0]
        if not near:
            return
        meant = sum(near) / len(near) + self.tuning.slope * log10(self.goal_mg_l / max(0.2, note.value))
        self.set_mv += self.tuning.share * (meant - self.set_mv)


class OrpSwitchTrimmed(OrpSwitch):
    """On/off with the set point trimmed at each chlorine test."""

    def told(self, note: Noted) -> None:
        super().told(note)
        if note.quantity == "free_chlorine":
            self.trim(note)


class OrpPi(OrpSwitchTrimmed):
    """Proportional and integral on ORP, set point trimmed at each chlorine test; the integral stands still while saturated."""

    def __init__(self, tuning: Tuning, stabiliser_mg_l: float) -> None:
        super().__init__(tuning, stabiliser_mg_l)
        self._integral = 0.2

    def level(self, sight: Sight, dt_h: float) -> float:
        if not sight.flow or sight.flow_h < 0.25:
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
        super().__init__(tuning, stabiliser_mg_l)
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
        self._seen: list[tuple[datetime, float]] = []

    def told(self, note: Noted) -> None:
        near = [ph for at, ph in self._seen if abs((at - note.taken_utc).total_seconds()) < 1200.0]
        if note.quantity == "ph" and near:
            self._offset += 0.4 * (note.value - sum(near) / len(near) - self._offset)

    def level(self, sight: Sight, dt_h: float) -> float:
        if not sight.flow or sight.flow_h < 0.25:
            self._left_h = 0.0
            return 0.0
        self._seen = [*self._seen[-2500:], (sight.utc, sight.ph)]
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
