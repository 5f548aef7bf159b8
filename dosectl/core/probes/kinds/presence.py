"""A button at the plant, true = pressed: proof that a person is there."""

from dosectl.core.probes.kind import ProbeKind
from dosectl.model.reasons import Code, ReasonKind
from dosectl.model.signals import SignalKind

OUTSIDE = ReasonKind(
    Code("presence.range"),
    "The presence button says {value} since {since}, where on or off is expected: it counts as failed. "
    "Check the topic and its words for on and off.",
)

PRESENCE = ProbeKind(SignalKind.PRESENCE, number=False, switch=True, outside=OUTSIDE)
