"""Pool cover, true = closed: a switch."""

from dosectl.core.probes.kind import ProbeKind
from dosectl.model.reasons import Code, ReasonKind
from dosectl.model.signals import SignalKind

OUTSIDE = ReasonKind(
    Code("cover.range"),
    "The cover's switch says {value} since {since}, where on or off is expected: it counts as failed. "
    "Check the topic and its words for on and off.",
)

COVER = ProbeKind(SignalKind.COVER, number=False, switch=True, outside=OUTSIDE)
