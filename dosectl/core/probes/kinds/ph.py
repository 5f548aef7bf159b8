"""Acidity of the water [pH]."""

from dosectl.core.probes.kind import ProbeKind
from dosectl.model.reasons import Code, ReasonKind
from dosectl.model.signals import SignalKind

OUTSIDE = ReasonKind(
    Code("ph.range"),
    "The pH probe reads {value}, outside {low} to {high}, since {since}: not believable for pool water. "
    "Likely swapped plugs or a broken cable; check the plug and the cable; test it in a buffer, taken out "
    "with the pump off.",
)
JUMPED = ReasonKind(
    Code("ph.step"),
    "The pH probe jumped from {before} to {value} within {window_s} s at {since}: water does not do that. "
    "It is believed again after some minutes of steady readings; look for a loose plug or air at the electrode.",
)

# 5.5 to 9.5: an electrode that sees 700 mV of ORP on this input would read near -4.8. Proposed judgement.
PH = ProbeKind(
    SignalKind.PH,
    number=True,
    switch=False,
    outside=OUTSIDE,
    low=5.5,
    high=9.5,
    step_max=0.5,
    jumped=JUMPED,
    proves=True,
    flat=True,
)
