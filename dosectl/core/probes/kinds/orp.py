"""Oxidation-reduction potential of the water [mV against the electrode's own reference]."""

from dosectl.core.probes.kind import ProbeKind
from dosectl.model.reasons import Code, ReasonKind
from dosectl.model.signals import SignalKind

OUTSIDE = ReasonKind(
    Code("orp.range"),
    "The ORP probe reads {value} mV, outside {low} to {high} mV, since {since}: not believable for pool water. "
    "Likely swapped plugs, a broken cable or a dry electrode; check the plug and the cable; clean the tip "
    "only with the pump off.",
)
JUMPED = ReasonKind(
    Code("orp.step"),
    "The ORP probe jumped from {before} to {value} mV within {window_s} s at {since}: water does not do that. "
    "It is believed again after some minutes of steady readings; look for a loose plug or air at the electrode.",
)

# 200 to 950 mV: below any chlorinated water and above the platinum electrode's in strongly chlorinated water; a pH electrode on
# this input reads near 0 mV (59.16 mV per pH round pH 7), so the plain range also catches swapped plugs. Proposed judgement.
ORP = ProbeKind(
    SignalKind.ORP,
    number=True,
    switch=False,
    outside=OUTSIDE,
    low=200.0,
    high=950.0,
    step_max=100.0,
    jumped=JUMPED,
    proves=True,
    flat=True,
)
