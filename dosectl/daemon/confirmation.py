"""The before/after sheet: what changed since the settings that were confirmed, per feeder; reductions confirm themselves.

The journal keeps the fields that were confirmed last. A feeder whose fields changed stays held by its guard until a person
confirms the new digest, or at once where a change can only make feeding rarer or smaller. A confirmed change carries the proof
record over to the new digest, as long as the node is the same: the sheet is the proof of the change.
"""

import json
from dataclasses import dataclass, replace
from typing import Any

from dosectl.core.controller.changes import confirmed
from dosectl.core.controller.state import State
from dosectl.core.evidence import Standing
from dosectl.model.feeds import FeederId
from dosectl.model.instant import Instant
from dosectl.model.reasons import Code, Event
from dosectl.settings.differences import Difference, before_after, confirms_itself
from dosectl.settings.digest import Fields, feeder_fields
from dosectl.settings.load import Loaded
from dosectl.settings.rooms import bound

PLAN_CHANGED = Code("plan.changed")
CONFIRMED_PART = "confirmed_fields"
"""Name of the journal's part with the confirmed fields."""


@dataclass(frozen=True, slots=True)
class Sheet:
    """One feeder's change: from the digest that was confirmed to that of the plan."""

    feeder: FeederId
    before_digest: str
    after_digest: str
    rows: tuple[Difference, ...]

    @property
    def confirms_itself(self) -> bool:
        return confirms_itself(self.rows)


class Sheets:
    """All sheets of this start, and the confirmed fields that the journal keeps."""

    def __init__(self, kept: dict[str, dict[str, Any]], now: dict[str, tuple[str, Fields]]) -> None:
        self._kept = kept
        self._now = now
        self.all = tuple(
            Sheet(FeederId(feeder), str(kept[feeder]["digest"]), digest, before_after(kept[feeder]["fields"], fields))
            for feeder, (digest, fields) in now.items()
            if feeder in kept and kept[feeder]["digest"] != digest
        )

    @classmethod
    def of(cls, part: bytes | None, loaded: Loaded) -> "Sheets":
        """From the journal's part (None: a first start) and the settings."""
        concerned = bound(loaded.site, loaded.params)
        now: dict[str, tuple[str, Fields]] = {
            str(feeder.id): (feeder.digest, dict(feeder_fields(loaded.fields, loaded.site, feeder, concerned)))
            for feeder in loaded.site.feeders
        }
        return cls(json.loads(part) if part else {}, now)

    def part(self, standing: Standing) -> bytes:
        """What the journal keeps: the present fields where the present digest is confirmed, else those confirmed before."""
        settled = set(standing.confirmed)
        kept = dict(self._kept)
        for feeder, (digest, fields) in self._now.items():
            if (FeederId(feeder), digest) in settled:
                kept[feeder] = {"digest": digest, "fields": dict(fields)}
        return json.dumps(kept, sort_keys=True).encode()

    def events(self, now: Instant) -> tuple[Event, ...]:
        """What changed since the confirmed settings, for the record: one event per feeder, a fact per field."""
        return tuple(
            Event(
                PLAN_CHANGED,
                now,
                (
                    ("feeder", str(sheet.feeder)),
                    ("confirms_itself", sheet.confirms_itself),
                    *((row.field, f"{row.before} -> {row.after}") for row in sheet.rows),
                ),
            )
            for sheet in self.all
        )

    def shown(self, standing: Standing) -> list[dict[str, Any]]:
        """The sheets that wait for a person, as data for the view."""
        settled = set(standing.confirmed)
        return [
            {
                "feeder": sheet.feeder,
                "digest": sheet.after_digest,
                "rows": [
                    {"field": row.field, "before": row.before, "after": row.after, "effect": row.effect, "raises": row.raises}
                    for row in sheet.rows
                ],
            }
            for sheet in self.all
            if (sheet.feeder, sheet.after_digest) not in settled
        ]


def self_confirmed(state: State, sheets: Sheets) -> State:
    """The state with every sheet confirmed that needs no person."""
    standing = state.durable.standing
    for sheet in sheets.all:
        if sheet.confirms_itself and (sheet.feeder, sheet.before_digest) in standing.confirmed:
            standing = confirmed(standing, sheet.feeder, sheet.after_digest)
    return State(replace(state.durable, standing=standing), state.working)
