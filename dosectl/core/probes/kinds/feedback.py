"""Feeder feedback measured at the load: runs, or its power or current [W or A]."""

from dosectl.core.probes.kind import ProbeKind
from dosectl.model.reasons import Code, ReasonKind
from dosectl.model.signals import SignalKind

OUTSIDE = ReasonKind(
    Code("feedback.range"),
    "A feeder's feedback says {value}, outside {low} to {high}, since {since}: not believable. "
    "Whether the feeder runs is not known; check the meter at its load.",
)

# For a feeder "it runs" is the safe reading of a doubtful value: everything that must not overlap with it waits.
FEEDBACK = ProbeKind(SignalKind.FEEDBACK, number=True, switch=True, outside=OUTSIDE, low=-1.0, high=5000.0, safe_on=True)
