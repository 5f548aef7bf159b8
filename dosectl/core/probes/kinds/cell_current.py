"""Current through an electrolysis cell [A]."""

from dosectl.core.probes.kind import ProbeKind
from dosectl.model.reasons import Code, ReasonKind
from dosectl.model.signals import SignalKind

OUTSIDE = ReasonKind(
    Code("cell_current.range"),
    "The cell's current reads {value} A, outside {low} to {high} A, since {since}: not believable. Check the meter and its unit.",
)

# Negative while the polarity is reversed against scale. Common practice.
CELL_CURRENT = ProbeKind(SignalKind.CELL_CURRENT, number=True, switch=False, outside=OUTSIDE, low=-100.0, high=100.0)
