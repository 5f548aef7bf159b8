"""What no single table can know: what can't be made safe is refused, with the reason and what to do.

Each check takes the checked tables and yields findings; a check that can't judge because of another finding stays silent.
"""

from collections.abc import Callable, Iterator

from dosectl.settings.checks import feeding, flow, wiring
from dosectl.settings.checks.feeding import FEEDING_CHECKS
from dosectl.settings.checks.flow import FLOW_CHECKS
from dosectl.settings.checks.wiring import WIRING_CHECKS
from dosectl.settings.findings import Finding
from dosectl.settings.tables.file import Tables

CHECKS: tuple[Callable[[Tables], Iterator[Finding]], ...] = (*WIRING_CHECKS, *FLOW_CHECKS, *FEEDING_CHECKS)
NEED_ALL: frozenset[Callable[[Tables], Iterator[Finding]]] = frozenset(
    (wiring.needed_signals, wiring.references, flow.principles_of_flow, feeding.feeder_is_seen)
)
"""Checks that miss what is not there: with a table left out they would find what is no fault."""


def cross_findings(tables: Tables) -> tuple[Finding, ...]:
    """Everything that the checks find, in the order of the checks; of incomplete tables what can be said of them."""
    return tuple(finding for check in CHECKS if tables.complete or check not in NEED_ALL for finding in check(tables))
