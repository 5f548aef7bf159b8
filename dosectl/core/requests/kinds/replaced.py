"""Enter that a part that wears was replaced: a pump's tube, a chlorinator's cell, a probe. Its hours count from zero again."""

from dosectl.core.requests.changes import Replaced
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
from dosectl.core.requests.kinds.calibrated import PROBES
from dosectl.core.site import Site
from dosectl.model.reasons import Code, ReasonKind

WHAT = {"cell": "cell", "pump": "tube"}
"""The part that wears, by the feeder's kind."""

DONE = ReasonKind(
    Code("replaced.done"),
    "Noted: the {what} of {part} is new since now, and its use counts from zero. A new one gives another rate: have "
    "it measured by someone trained.",
)
PROBE = ReasonKind(
    Code("replaced.probe"),
    "Noted: the probe {part} is new since now, and what was learnt of the old one is forgotten. Check it in its buffer or "
    "standard, taken out with the pump off, and enter that too; then test chlorine and pH by hand and enter it.",
)
NONE = ReasonKind(Code("replaced.none"), "There is no feeder or probe '{part}' with a part that wears. There are: {parts}.")


def judge(site: Site, asked: Asked, view: RequestView) -> Judgement:
    """Takes a feeder with a part that wears, or a probe."""
    part = asked.text("part")
    feeder = next((item for item in site.feeders if str(item.id) == part and item.kind in WHAT), None)
    if feeder is not None:
        fed_g = dict(view.fed_g).get(feeder.id, 0.0)
        return granted(asked, DONE, Replaced(part, view.clock_s, fed_g), part=part, what=WHAT[feeder.kind])
    probes = [str(signal.id) for signal in site.signals if signal.kind in PROBES]
    if part in probes:
        return granted(asked, PROBE, Replaced(part, view.clock_s, 0.0), part=part)
    parts = [*(str(item.id) for item in site.feeders if item.kind in WHAT), *probes]
    return refused(asked.request, NONE, part=part[:40], parts=", ".join(parts) or "none")


REPLACED = RequestKind(
    code=Code("replaced"),
    arguments=(Argument("part", ArgumentType.TEXT, "a feeder (its tube or cell) or a probe, by its name in the settings"),),
    rights=Rights.ANYWHERE,
    help="Enter that a pump's tube, a cell or a probe was replaced: its hours count from zero.",
    answers=(DONE, PROBE, NONE),
    judge=judge,
)
