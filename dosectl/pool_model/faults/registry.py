"""All faults by name."""

from collections.abc import Iterable

from dosectl.pool_model.faults import feeding, flow, nodes, pool, probes
from dosectl.pool_model.faults.upset import Fault, Upset

FAULTS: dict[str, Fault] = {fault.name: fault for group in (flow, probes, feeding, nodes, pool) for fault in group.FAULTS}


def find(name: str) -> Fault:
    """The fault of that name. Raises KeyError with the names there are."""
    fault = FAULTS.get(name)
    if fault is None:
        raise KeyError(f"fault {name!r} is not known, so nothing was changed; known are: {', '.join(sorted(FAULTS))}")
    return fault


def upset_by(names: Iterable[str]) -> Upset:
    """The sum of these faults. Raises KeyError as `find`."""
    upset = Upset()
    for name in names:
        find(name).apply(upset)
    return upset
