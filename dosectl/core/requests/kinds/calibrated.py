"""Enter that a probe was calibrated or checked in its standard. Readings change by the settings alone; the estimate forgets the
offset that it had learnt of a pH probe, and is less sure of a redox electrode's."""

from dosectl.core.requests.changes import Calibrated
from dosectl.core.requests.kind import (
    Argument,
    ArgumentType,
    Asked,
    Judgement,
    RequestKind,
    RequestView,
    Rights,
    granted,
    refused,
)
from dosectl.core.site import Site
from dosectl.model.reasons import Code, ReasonKind
from dosectl.model.signals import SignalId, SignalKind

PROBES = (SignalKind.PH, SignalKind.ORP, SignalKind.FREE_CHLORINE)
"""Kinds that drift and are set against a standard: a buffer, a redox solution, a test by hand."""

DONE = ReasonKind(
    Code("calibrated.done"),
    "Noted: {probe} was calibrated or checked in its standard now. Its reading is not changed by this: enter what it showed in "
    "the settings if it was off.",
)
NO_PROBE = ReasonKind(Code("calibrated.none"), "There is no probe '{probe}' to calibrate. Probes: {probes}.")


def judge(site: Site, asked: Asked, view: RequestView) -> Judgement:
    """Takes a probe of the settings."""
    probes = [str(signal.id) for signal in site.signals if signal.kind in PROBES]
    probe = asked.text("probe")
    if probe not in probes:
        return refused(asked.request, NO_PROBE, probe=probe[:40], probes=", ".join(probes) or "none")
    return granted(asked, DONE, Calibrated(SignalId(probe), view.clock_s), probe=probe)


CALIBRATED = RequestKind(
    code=Code("calibrated"),
    arguments=(Argument("probe", ArgumentType.TEXT, "which probe, by its name in the settings"),),
    rights=Rights.ANYWHERE,
    help="Enter that a probe was calibrated, or checked in its buffer or standard.",
    answers=(DONE, NO_PROBE),
    judge=judge,
)
