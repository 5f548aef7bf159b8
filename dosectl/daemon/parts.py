"""The durable state and its parts in the journal."""

from collections.abc import Mapping
from dataclasses import replace
from typing import Any, get_type_hints

from dosectl.core.controller.begin import fresh_durable, require_same_substances
from dosectl.core.controller.plan import Plan
from dosectl.core.controller.state import Durable
from dosectl.core.estimate.begin import start
from dosectl.core.estimate.filters import SIZE
from dosectl.core.estimate.state import Hour
from dosectl.model.ledger import Ledger
from dosectl.store.durable import PartCodec

CODECS: Mapping[str, PartCodec[Any]] = {
    name: PartCodec(kind) for name, kind in get_type_hints(Durable).items() if name not in ("ledger", "schema")
}
"""One codec for each part, by the types that Durable declares."""

ESTIMATE, HISTORY = "estimate", "estimate_history"
_HISTORY: PartCodec[tuple[Hour, ...]] = PartCodec(tuple[Hour, ...])


def changed_parts(before: Durable | None, after: Durable) -> tuple[tuple[str, bytes], ...]:
    """Name and bytes of each part that is another object than before.

    The estimate's hours of history are a part of their own: they change once an hour, the estimate each minute, and the whole of
    it written each minute would wear a card out.
    """
    old = dict(before.parts()) if before is not None else {}
    parts: list[tuple[str, bytes]] = []
    for name, value in after.parts():
        if old.get(name) is not value:
            parts.append((name, CODECS[name].encode(replace(after.estimate, history=()) if name == ESTIMATE else value)))
    if before is None or before.estimate.history is not after.estimate.history:
        parts.append((HISTORY, _HISTORY.encode(after.estimate.history)))
    return tuple(parts)


def durable_from(plan: Plan, parts: Mapping[str, bytes], ledger: Ledger | None) -> Durable | None:
    """What the journal kept, None where it kept nothing.

    Raises JournalDamaged for a part that can't be read, ValueError where a name that has fed goes to another substance.
    """
    if "clocks" not in parts:
        return None
    if ledger is not None:
        require_same_substances(plan.site, ledger)
    fresh = fresh_durable(plan)
    known = {name: codec.decode(parts[name]) for name, codec in CODECS.items() if name in parts}
    if ESTIMATE in known and HISTORY in parts:
        known[ESTIMATE] = replace(known[ESTIMATE], history=_HISTORY.decode(parts[HISTORY]))
    if (
        ESTIMATE in known and len(known[ESTIMATE].mean) != SIZE
    ):  # of a version that knew less of the water: it starts from the tests
        known[ESTIMATE] = start(plan.site, plan.estimate, known.get("tests", ()), known["clocks"].clock_s)
    return replace(fresh, **known, ledger=ledger if ledger is not None else fresh.ledger)
