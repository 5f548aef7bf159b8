"""Pump timer, pump, and whether water moves."""

from dosectl.pool_model.faults.upset import Upset
from dosectl.pool_model.params import CirculationParams


class Circulation:
    """Pump and flow now.

    pump_on, flow : what is; flow_switch : what the switch says; power_w : the pump's
    """

    __slots__ = ("_blink_left_s", "_params", "_running_s", "flow", "flow_switch", "power_w", "pump_on")

    def __init__(self, params: CirculationParams) -> None:
        self._params = params
        self._blink_left_s = 0.0
        self._running_s = 1e9
        self.pump_on = False
        self.flow = False
        self.flow_switch = False
        self.power_w = 0.0

    def blink(self, lasts_s: float) -> None:
        """Interrupts the flow for so long."""
        self._blink_left_s = lasts_s

    def step(self, dt_s: float, hour: float, upset: Upset) -> None:
        """Brings pump and flow to the end of the step. `hour` is local."""
        timer = any(start <= hour < end for start, end in self._params.hours)
        on = timer and not upset.pump_dead
        if on and not self.pump_on:
            self._running_s = 0.5 * dt_s  # the timer switched somewhere within the step
        elif on:
            self._running_s += dt_s
        self.pump_on = on
        if dt_s > 0.0:
            self._blink_left_s = max(0.0, self._blink_left_s - dt_s)
        self.flow = on and self._running_s >= self._params.prime_s and not upset.flow_blocked and self._blink_left_s <= 1e-9
        self.flow_switch = self.flow or upset.flow_switch_stuck
        # A centrifugal pump against a shut valve takes less power.
        self.power_w = (self._params.power_w * (0.7 if upset.flow_blocked else 1.0)) if on else 0.0
