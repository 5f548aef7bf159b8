"""Which probes a person has just replaced, or set against their standard."""

from dosectl.core.evidence import Standing
from dosectl.core.site import Site
from dosectl.model.signals import SignalKind

KINDS = (SignalKind.ORP, SignalKind.PH)
NONE: frozenset[SignalKind] = frozenset()


def new_probes(site: Site, before: Standing, after: Standing) -> tuple[frozenset[SignalKind], frozenset[SignalKind]]:
    """Kinds of the pool's own probes that were replaced, and that were calibrated or checked, between the two."""
    if after.replaced is before.replaced and after.calibrated is before.calibrated:
        return NONE, NONE
    own = {str(signal.id): kind for kind in KINDS if (signal := site.first(kind)) is not None}
    was_replaced, was_checked = set(before.replaced), set(before.calibrated)
    replaced = frozenset(
        own[part] for part, at_s, fed_g in after.replaced if part in own and (part, at_s, fed_g) not in was_replaced
    )
    checked = frozenset(
        own[str(probe)] for probe, at_s in after.calibrated if str(probe) in own and (probe, at_s) not in was_checked
    )
    return replaced, checked
