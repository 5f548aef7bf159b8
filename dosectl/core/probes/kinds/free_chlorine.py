"""Free chlorine by an amperometric cell [mg/L as Cl2]."""

from dosectl.core.probes.kind import ProbeKind
from dosectl.model.reasons import Code, ReasonKind
from dosectl.model.signals import SignalKind

OUTSIDE = ReasonKind(
    Code("free_chlorine.range"),
    "The free-chlorine cell reads {value} mg/L, outside {low} to {high} mg/L, since {since}: not believable. "
    "Check its membrane, electrolyte and cable.",
)
ODD = ReasonKind(
    Code("free_chlorine.spec"),
    "The free-chlorine cell reads {value} mg/L since {since}, past the range such cells are made for. Test by hand; do not swim.",
)

# Such cells are commonly made for 0 to 10 mg/L; a little below zero is zero drift. From memory, unchecked.
FREE_CHLORINE = ProbeKind(
    SignalKind.FREE_CHLORINE,
    number=True,
    switch=False,
    outside=OUTSIDE,
    low=-0.2,
    high=20.0,
    spec_low=-0.1,
    spec_high=10.0,
    odd=ODD,
    proves=True,
)
