"""Container of a feeder: not empty, or its fill [%]."""

from dosectl.core.probes.kind import ProbeKind
from dosectl.model.reasons import Code, ReasonKind
from dosectl.model.signals import SignalKind

OUTSIDE = ReasonKind(
    Code("level.range"),
    "The container's level says {value}, outside {low} to {high} %, since {since}: not believable. Have "
    "its sensor looked at by someone trained.",
)

LEVEL = ProbeKind(SignalKind.LEVEL, number=True, switch=True, outside=OUTSIDE, low=-5.0, high=110.0)
