"""Local stop or service isolator, true = stop: a switch."""

from dosectl.core.probes.kind import ProbeKind
from dosectl.model.reasons import Code, ReasonKind
from dosectl.model.signals import SignalKind

OUTSIDE = ReasonKind(
    Code("stop_input.range"),
    "The stop input says {value} since {since}, where on or off is expected: it counts as failed. "
    "Check the topic and its words for on and off.",
)

STOP_INPUT = ProbeKind(SignalKind.STOP_INPUT, number=False, switch=True, outside=OUTSIDE)
