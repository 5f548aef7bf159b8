"""Filter valve in its filtering position: a switch."""

from dosectl.core.probes.kind import ProbeKind
from dosectl.model.reasons import Code, ReasonKind
from dosectl.model.signals import SignalKind

OUTSIDE = ReasonKind(
    Code("water_path.range"),
    "The filter valve's switch says {value} since {since}, where on or off is expected: it counts as failed. "
    "Check the topic and its words for on and off.",
)

WATER_PATH = ProbeKind(SignalKind.WATER_PATH, number=False, switch=True, outside=OUTSIDE)
