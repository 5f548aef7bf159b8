"""Water temperature [deg C]."""

from dosectl.core.probes.kind import ProbeKind
from dosectl.model.reasons import Code, ReasonKind
from dosectl.model.signals import SignalKind

OUTSIDE = ReasonKind(
    Code("water_temp.range"),
    "The water temperature reads {value} °C, outside {low} to {high} °C, since {since}: not believable for a pool. "
    "Check the sensor's cable and its unit.",
)
ODD = ReasonKind(
    Code("water_temp.spec"),
    "The water is {value} °C since {since}, hotter than the probes' methods are meant for; readings are taken with care.",
)

# 0 to 45 deg C is liquid water of a pool; above 40 electrode and chlorine methods leave their range. Proposed judgement.
WATER_TEMP = ProbeKind(
    SignalKind.WATER_TEMP,
    number=True,
    switch=False,
    outside=OUTSIDE,
    low=0.0,
    high=45.0,
    spec_high=40.0,
    odd=ODD,
    proves=True,
)
