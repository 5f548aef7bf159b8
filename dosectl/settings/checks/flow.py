"""Flow must be proven twice before a pumped chemical may run, and its loss must be heard within a second or three.

Limits: a flow topic at most 3 s, for a pumped chemical 1 s, unless each change is published at once with a message at least every
3 s. Ten seconds of a 50 mL/min pump without flow are some 8 mL of hypochlorite; derived, see the documentation of the interlocks.
"""

from collections.abc import Callable, Iterator

from dosectl.model.signals import SignalKind
from dosectl.settings.findings import Finding, shown
from dosectl.settings.tables.file import Tables
from dosectl.settings.tables.schema import CellTable, FeederTable

HEARTBEAT_S_MAX = 3.0
PUMPED_PERIOD_S_MAX = 1.0
PRINCIPLES = (SignalKind.FLOW, SignalKind.PUMP)


def principles_of_flow(tables: Tables) -> Iterator[Finding]:
    """Two principles for anything pumped; one only for a cell that has a cut-out of its own."""
    fitted = {signal.kind for signal in tables.signals if signal.kind in PRINCIPLES}
    if len(fitted) == len(PRINCIPLES):
        return
    lacking = [kind for kind in PRINCIPLES if kind not in fitted]
    words = {SignalKind.FLOW: "a flow switch or meter (kind flow)", SignalKind.PUMP: "the pump's contact or power (kind pump)"}
    add = " and ".join(words[kind] for kind in lacking)
    for name, table in tables.feeders:
        if _one_is_enough(table) and fitted:
            continue
        count = "on one principle" if fitted else "without any evidence"
        hazard = (
            "hydrogen gathers in a cell without flow; with a wired gas or flow cut-out of its own say own_cutout = true"
            if isinstance(table, CellTable)
            else "chemical that stands in the pipe goes into the pool as one slug of gas when the pump starts"
        )
        found = shown(table.kind)
        yield Finding(f"feeders.{name}.kind", found, f"this would be fed {count} of flow; {hazard}", f"add {add} to [signals]")


def flow_is_heard_in_time(tables: Tables) -> Iterator[Finding]:
    """The period of flow and pump messages."""
    pumped = [name for name, table in tables.feeders if not isinstance(table, CellTable)]
    for signal in tables.signals:
        if signal.kind not in PRINCIPLES:
            continue
        key, period_s, edges = f"signals.{signal.name}.period_s", signal.keys.period_s, signal.keys.edges
        if period_s > HEARTBEAT_S_MAX:
            why = "flow lost for that long would go unseen; a flow message is needed at least every 3 s"
            yield Finding(
                key, f"{period_s:g}", why, "let its source publish each change at once and every 3 s, and say edges = true"
            )
        elif pumped and period_s > PUMPED_PERIOD_S_MAX and not edges:
            why = f"with a pumped chemical ({pumped[0]}) loss of flow must be heard within 1 s"
            do = "let its source publish each change at once and say edges = true, or publish every second and say period_s = 1"
            yield Finding(key, f"{period_s:g}", why, do)


def _one_is_enough(table: FeederTable) -> bool:
    return isinstance(table, CellTable) and table.own_cutout


FLOW_CHECKS: tuple[Callable[[Tables], Iterator[Finding]], ...] = (principles_of_flow, flow_is_heard_in_time)
