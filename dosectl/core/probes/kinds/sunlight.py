"""Sunlight as a share of a clear sky's [%]: measured beside the pool, or foretold for the day by a weather service."""

from dosectl.core.probes.kind import ProbeKind
from dosectl.model.reasons import Code, ReasonKind
from dosectl.model.signals import SignalKind

OUTSIDE = ReasonKind(
    Code("sunlight.range"),
    "The sunlight signal says {value} %, outside {low} to {high} % of a clear sky, since {since}: not believable. The sun is "
    "reckoned as it usually was here.",
)

# Broken cloud beside the sun reflects: more than a clear sky for minutes. Common practice.
SUNLIGHT = ProbeKind(SignalKind.SUNLIGHT, number=True, switch=False, outside=OUTSIDE, low=0.0, high=140.0)
