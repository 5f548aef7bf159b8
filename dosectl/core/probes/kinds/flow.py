"""Water flow: a switch, or a meter [L/min]."""

from dosectl.core.probes.kind import ProbeKind
from dosectl.model.reasons import Code, ReasonKind
from dosectl.model.signals import SignalKind

OUTSIDE = ReasonKind(
    Code("flow.range"),
    "The flow sensor says {value}, outside {low} to {high} L/min, since {since}: not believable. Flow counts as unproven; "
    "check the sensor, its unit and its cable.",
)

# A private pool's pump moves some 50 to 500 L/min. Common practice; the bound only has to catch another unit.
FLOW = ProbeKind(SignalKind.FLOW, number=True, switch=True, outside=OUTSIDE, low=-1.0, high=3000.0)
