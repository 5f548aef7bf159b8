"""Flow of fresh water past the probes: a switch."""

from dosectl.core.probes.kind import ProbeKind
from dosectl.model.reasons import Code, ReasonKind
from dosectl.model.signals import SignalKind

OUTSIDE = ReasonKind(
    Code("sample_flow.range"),
    "The sample-flow switch says {value} since {since}, where on or off is expected: it counts as failed. "
    "Check the topic and its words for on and off.",
)

SAMPLE_FLOW = ProbeKind(SignalKind.SAMPLE_FLOW, number=False, switch=True, outside=OUTSIDE)
