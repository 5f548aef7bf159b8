"""A fitted signal that says nothing, or nothing believable: told for every kind that has no alarm of its own."""

from dosectl.core.alarms.conditions import because, settled
from dosectl.core.alarms.row import Finding, Looking
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
    for signal in look.view.evidence.site.signals:
        if signal.kind in OWN_ALARM:
            continue
        reading = look.view.evidence.readings.get(signal.id)
        if reading is not None and reading.status < Status.FAILURE:
            if signal.kind is SignalKind.SUNLIGHT and look.view.water.dark_h >= DARK_H:
                hours = ("hours", round(look.view.water.dark_h, 1))
                return because(look, "alarm.sunlight_dark", ("signal", str(signal.id)), hours)
            continue
        if signal.kind in IN_FLOW and not settled(look.view.evidence):
            waits = True
            continue
        return because(look, "alarm.signal_silent", ("signal", str(signal.id)))
    return None if waits else False
