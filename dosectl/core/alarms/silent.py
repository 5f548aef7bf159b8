"""A fitted signal that says nothing, or nothing believable: told for every kind that has no alarm of its own."""

from dosectl.core.alarms.conditions import TOGETHER_S, because, settled
from dosectl.core.alarms.row import Finding, Looking, Several
from dosectl.model.reasons import Reason
from dosectl.model.signals import SignalKind, Status

OWN_ALARM = frozenset({SignalKind.ORP, SignalKind.PH, SignalKind.FLOW, SignalKind.PUMP, SignalKind.FEEDBACK})
"""Kinds whose loss is told by `probe.failure`, `flow.evidence_lost` and `feed.unseen`."""
IN_FLOW = frozenset(
    {SignalKind.WATER_TEMP, SignalKind.SALT, SignalKind.FREE_CHLORINE, SignalKind.CELL_CURRENT, SignalKind.CELL_VOLTAGE}
)
"""Kinds that a plant may power with its pump, and that guard nothing without flow: their silence counts in settled flow only."""


DARK_H = 6.0
"""Of daylight, in which a sunlight signal may say next to nothing: no weather is so dark for so long; own judgement."""


def signal_silent(look: Looking, _was: bool) -> Finding:
    """A fitted signal without an alarm of its own has no usable value; unknown where that can't be seen without flow."""
    waits = False
    silent: list[tuple[str, Reason]] = []
    for signal in look.view.evidence.site.signals:
        if signal.kind in OWN_ALARM:
            continue
        reading = look.view.evidence.readings.get(signal.id)
        if reading is not None and reading.status < Status.FAILURE:
            continue
        if signal.kind in IN_FLOW and not settled(look.view.evidence):
            waits = True
            continue
        name = str(signal.id)
        silent.append((name, because(look, "alarm.signal_silent", ("signal", name))))
    if silent:
        return Several(tuple(silent), TOGETHER_S)
    return None if waits else False


def sunlight_dark(look: Looking, _was: bool) -> Finding:
    """A sunlight signal has said next to nothing for hours of daylight (`estimate.light`)."""
    signal = look.view.evidence.site.first(SignalKind.SUNLIGHT)
    dark_h = look.view.water.dark_h
    if signal is None or dark_h < DARK_H:
        return False
    return because(look, "alarm.sunlight_dark", ("signal", str(signal.id)), ("hours", round(dark_h, 1)))
