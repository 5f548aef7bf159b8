"""Voltage across an electrolysis cell [V]."""

from dosectl.core.probes.kind import ProbeKind
from dosectl.model.reasons import Code, ReasonKind
from dosectl.model.signals import SignalKind

OUTSIDE = ReasonKind(
    Code("cell_voltage.range"),
    "The cell's voltage reads {value} V, outside {low} to {high} V, since {since}: not believable. Check the meter and its unit.",
)

# Negative while the polarity is reversed against scale. Common practice.
CELL_VOLTAGE = ProbeKind(SignalKind.CELL_VOLTAGE, number=True, switch=False, outside=OUTSIDE, low=-100.0, high=100.0)
