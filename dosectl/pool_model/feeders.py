"""Feeders: what an output at some level does to the water, the container, and the load that feedback is measured at."""

from typing import Protocol

from dosectl.chemistry.decay import hypochlorite_strength_g_l
from dosectl.chemistry.delivery.cell import temperature_factor
from dosectl.pool_model.faults.upset import Upset
from dosectl.pool_model.params import CellParams, DosingPumpParams

SECONDS_PER_DAY = 86400.0


class Feeder(Protocol):
    """Any feeder of the plant."""

    @property
    def id(self) -> str:
        """Its name on the bus."""
        ...

    @property
    def acid(self) -> bool:
        """True: feeds acid; False: chlorine."""
        ...

    @property
    def running(self) -> bool:
        """The load draws power now."""
        ...

    def step(self, dt_s: float, level: float, flow: bool, temp_c: float, salt_g_l: float, upset: Upset) -> float:
        """Mass fed in the step [g as Cl2, or of alkalinity removed as CaCO3]."""
        ...

    def signals(self, out: dict[str, float | bool], upset: Upset) -> None:
        """Adds its own raw signals."""
        ...


class Cell:
    """Chlorinator: output falls with cold, little salt and age; its own gas sensor may stop it without flow."""

    __slots__ = ("_age_s", "_dry_s", "_level", "_output", "_params", "acid", "id", "running")

    def __init__(self, params: CellParams) -> None:
        self._params = params
        self.id = params.id
        self.acid = False
        self.running = False
        self._age_s = 0.0
        self._dry_s = 0.0
        self._level = 0.0
        self._output = 1.0

    def step(self, dt_s: float, level: float, flow: bool, temp_c: float, salt_g_l: float, upset: Upset) -> float:
        """See `Feeder.step`."""
        params = self._params
        if upset.chlorine_stuck:
            level = 1.0
        if upset.chlorine_dead:
            level = 0.0
        self._age_s += dt_s
        if flow:
            self._dry_s = 0.0
        elif level > 0.0:
            self._dry_s += dt_s
        if params.gas_cutout_s is not None and self._dry_s > params.gas_cutout_s:
            level = 0.0  # the gas stays until water returns
        self._level = level
        self.running = level > 0.0
        if not self.running or dt_s == 0.0:
            return 0.0
        salt = (salt_g_l - params.salt_stop_g_l) / (params.salt_full_g_l - params.salt_stop_g_l)
        worn = max(0.0, 1.0 - params.wear_per_day * self._age_s / SECONDS_PER_DAY)
        cold = temperature_factor(min(max(temp_c, 0.0), 50.0), params.cold_limit_c, params.stop_c)
        self._output = min(1.0, max(0.0, salt)) * worn * cold
        self._output *= upset.cell_output_share
        return params.output_g_h / 3600.0 * level * self._output * dt_s

    def signals(self, out: dict[str, float | bool], upset: Upset) -> None:
        """`{id}_a`: current through the cell."""
        if not upset.load_silent:
            out[f"{self.id}_a"] = round(self._params.current_a * self._level * (0.3 + 0.7 * self._output), 2)


class DosingPump:
    """Metering pump that empties its container; hypochlorite weakens with age."""

    __slots__ = ("_age_s", "_left_ml", "_params", "_strength_at_s", "_strength_g_l", "acid", "id", "running")

    def __init__(self, params: DosingPumpParams) -> None:
        self._params = params
        self.id = params.id
        self.acid = params.acid
        self.running = False
        self._left_ml = params.fill_ml
        self._age_s = params.age_days * SECONDS_PER_DAY
        self._strength_at_s = -SECONDS_PER_DAY
        self._strength_g_l = params.strength_g_l

    @property
    def left_ml(self) -> float:
        """What is in the container."""
        return self._left_ml

    def refill(self, volume_ml: float) -> None:
        """Adds fresh product, up to the container's size; its age starts anew. Raises ValueError for a negative volume."""
        if not 0.0 <= volume_ml < 1e7:
            raise ValueError(f"refill of {self.id} = {volume_ml!r} mL: accepted is 0 or more")
        self._left_ml = min(self._params.container_ml, self._left_ml + volume_ml)
        self._age_s = 0.0
        self._strength_at_s = -SECONDS_PER_DAY

    def step(self, dt_s: float, level: float, flow: bool, temp_c: float, salt_g_l: float, upset: Upset) -> float:  # noqa: ARG002
        """See `Feeder.step`. Flow makes no difference to a pump: it pushes into a standing line as well."""
        stuck, dead, empty = (
            (upset.acid_stuck, upset.acid_dead, upset.acid_empty)
            if self.acid
            else (upset.chlorine_stuck, upset.chlorine_dead, upset.chlorine_empty)
        )
        if stuck:
            level = 1.0
        if dead:
            level = 0.0
        self.running = level > 0.0
        self._age_s += dt_s
        ml_h = self._params.rate_ml_h * level + (upset.acid_siphon_ml_h if self.acid else 0.0)
        if ml_h == 0.0 or empty or dt_s == 0.0:
            return 0.0
        moved_ml = min(self._left_ml, ml_h / 3600.0 * dt_s)
        self._left_ml -= moved_ml
        if self._params.ages and self._age_s - self._strength_at_s > 21600.0:
            self._strength_at_s = self._age_s
            days = self._age_s / SECONDS_PER_DAY
            self._strength_g_l = hypochlorite_strength_g_l(self._params.strength_g_l, days, self._params.storage_c)
        times = upset.acid_strength_times if self.acid else upset.chlorine_strength_times
        return moved_ml * self._strength_g_l * times / 1000.0

    def signals(self, out: dict[str, float | bool], upset: Upset) -> None:
        """`{id}_running`: load measured; `{id}_percent`: fill of the container."""
        empty = upset.acid_empty if self.acid else upset.chlorine_empty
        if not upset.load_silent:
            out[f"{self.id}_running"] = self.running
        out[f"{self.id}_percent"] = 0.0 if empty else round(100.0 * self._left_ml / self._params.container_ml, 1)


def make(params: CellParams | DosingPumpParams) -> Cell | DosingPump:
    """The feeder of these parameters."""
    return Cell(params) if isinstance(params, CellParams) else DosingPump(params)
