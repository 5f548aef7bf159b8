"""Faults of pump, water flow and its switch."""

from dosectl.pool_model.faults.upset import Fault, Upset


def _flow_lost(upset: Upset) -> None:
    upset.flow_blocked = True


def _flow_switch_stuck_on(upset: Upset) -> None:
    upset.flow_switch_stuck = True


def _pump_off(upset: Upset) -> None:
    upset.pump_dead = True


FAULTS = (
    Fault("flow_lost", "A valve is shut or the basket is full: the pump runs but no water flows.", _flow_lost),
    Fault("flow_blink", "Water flow is interrupted for 200 ms, then returns.", _flow_lost, lasts_s=0.2),
    Fault("flow_switch_stuck_on", "The flow switch says flow for ever, whatever the water does.", _flow_switch_stuck_on),
    Fault("pump_off", "The pump has no power.", _pump_off),
)
