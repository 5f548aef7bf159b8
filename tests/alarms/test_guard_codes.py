"""An alarm that asks for a guard that does not exist would stay silent for ever: every code it asks for must be declared."""

import importlib
import inspect
import pkgutil
import re
from collections.abc import Iterator

from dosectl.core.alarms import ROWS, containers, findings
from dosectl.core.alarms.conditions import ByFeeder, ByGuard, Either
from dosectl.core.alarms.row import Condition
from dosectl.core.interlocks import arbiter, guards
from dosectl.core.interlocks.registry import KINDS
from dosectl.model.reasons import ReasonKind


def declared() -> set[str]:
    """Codes of all guards and of all reasons that they may give."""
    known = {str(reason.code) for kind in KINDS for reason in kind.reasons} | {str(kind.code) for kind in KINDS}
    known |= {str(value.code) for value in vars(arbiter).values() if isinstance(value, ReasonKind)}
    for info in pkgutil.iter_modules(guards.__path__):
        module = importlib.import_module(f"{guards.__name__}.{info.name}")
        known |= {value for name, value in vars(module).items() if name.startswith("CODE") and isinstance(value, str)}
    return known


def asked(condition: Condition) -> Iterator[str]:
    if isinstance(condition, (ByGuard, ByFeeder)):
        yield from condition.codes
    elif isinstance(condition, Either):
        for part in condition.parts:
            yield from asked(part)


def test_every_guard_that_a_row_asks_for_exists() -> None:
    codes = {code for row in ROWS for code in asked(row.condition)}
    assert "flow.gas_hold" in codes
    assert codes <= declared()


def test_every_guard_that_a_finding_asks_for_exists() -> None:
    source = inspect.getsource(findings) + inspect.getsource(containers)
    named = re.findall(r'"([a-z_]+\.[a-z_]+)" in look\.|look\.(?:denials|limits)(?:\.get\(|\[)"([a-z_.]+)"', source)
    codes = {first or second for first, second in named}
    codes |= {"change.unfed", *containers.EMPTY, containers.ONCE}
    assert "record.store" in codes
    assert codes <= declared()
