"""Salt in the water, from conductivity [g/L]."""

from dosectl.core.probes.kind import ProbeKind
from dosectl.model.reasons import Code, ReasonKind
from dosectl.model.signals import SignalKind

OUTSIDE = ReasonKind(
    Code("salt.range"),
    "The salt reading is {value} g/L, outside {low} to {high} g/L, since {since}: not believable. Check the conductivity probe.",
)

# Up to sea water (about 35 g/L). Common practice.
SALT = ProbeKind(SignalKind.SALT, number=True, switch=False, outside=OUTSIDE, low=0.0, high=45.0)
