"""Circulation pump: running, or its power [W]."""

from dosectl.core.probes.kind import ProbeKind
from dosectl.model.reasons import Code, ReasonKind
from dosectl.model.signals import SignalKind

OUTSIDE = ReasonKind(
    Code("pump.range"),
    "The pump's signal says {value}, outside {low} to {high} W, since {since}: not believable. The pump counts as not "
    "proven to run; check the power meter and its unit.",
)

# Pumps of private pools draw some 100 to 2500 W. Common practice; the bound only has to catch another unit.
PUMP = ProbeKind(SignalKind.PUMP, number=True, switch=True, outside=OUTSIDE, low=-5.0, high=10000.0)
