"""The durable state and its parts in the journal."""

from collections.abc import Mapping
from dataclasses import replace
from typing import Any, get_type_hints

from dosectl.core.controller.begin import fresh_durable
from dosectl.core.controller.plan import Plan
from dosectl.core.controller.state import Durable
from dosectl.model.ledger import Ledger
from dosectl.store.durable import PartCodec

CODECS: Mapping[str, PartCodec[Any]] = {
    name: PartCodec(kind) for name, kind in get_type_hints(Durable).items() if name not in ("ledger", "schema")
}
"""One codec for each part, by the types that Durable declares."""


def durable_from(plan: Plan, parts: Mapping[str, bytes], ledger: Ledger | None) -> Durable | None:
    """What the journal kept, None where it kept nothing. Raises JournalDamaged for a part that can't be read."""
    if "clocks" not in parts:
        return None
    fresh = fresh_durable(plan)
    known = {name: codec.decode(parts[name]) for name, codec in CODECS.items() if name in parts}
    return replace(fresh, **known, ledger=ledger if ledger is not None else fresh.ledger)
