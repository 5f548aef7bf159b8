"""Store health: a feed that can't be written down before it begins is not begun."""

from dataclasses import dataclass, replace

from dosectl.core.evidence import Evidence
from dosectl.core.interlocks.answers import deny, moment
from dosectl.core.interlocks.guard import GuardKind, Memory, Need
from dosectl.core.site import Site
from dosectl.model.feeds import FeederId
from dosectl.model.ranges import setting
from dosectl.model.reasons import Code, ReasonKind
from dosectl.model.verdicts import Permit, Verdict

CODE = Code("record.store")
PERMIT = Permit(CODE)
MB = 1_000_000

UNWRITABLE = ReasonKind(
    Code("record.unwritable"),
    "The record can't be written since {since}, so nothing is fed. Check the disk; feeding resumes once it can be written.",
)
NO_ROOM = ReasonKind(
    Code("record.no_room"),
    "Only {free_mb} MB are free where the record lies ({needed_mb:.0f} MB are needed), so nothing is fed since {since}. "
    "Make room.",
)


@dataclass(frozen=True, slots=True)
class RecordStoreParams:
    free_mb: float = setting(
        200.0, ge=50.0, le=100_000.0, unit="MB", why="engineering judgement: weeks of record, and room to recover in"
    )


@dataclass(frozen=True, slots=True)
class RecordStore:
    """Memory: since_s = since when it stands; space unknown counts as none."""

    feeders: tuple[FeederId, ...]
    params: RecordStoreParams
    code: Code = CODE
    needs: tuple[Need, ...] = ()
    permit: Permit = PERMIT

    def judge(self, evidence: Evidence, memory: Memory) -> tuple[Verdict, Memory]:
        health = evidence.health
        free = health.free_bytes
        if health.journal_ok and free is not None and free >= self.params.free_mb * MB:
            return self.permit, (memory if memory.since_s is None else replace(memory, since_s=None))
        if memory.since_s is None:
            memory = replace(memory, since_s=evidence.clock_s)
        since = moment(evidence, memory.since_s)
        if not health.journal_ok:
            return deny(CODE, UNWRITABLE.because(since)), memory
        shown = "an unknown number of" if free is None else free // MB
        return deny(CODE, NO_ROOM.because(since, free_mb=shown, needed_mb=self.params.free_mb)), memory


def _build(site: Site, params: RecordStoreParams) -> tuple[RecordStore, ...]:
    return (RecordStore(tuple(feeder.id for feeder in site.feeders), params),)


KIND = GuardKind(
    CODE, RecordStoreParams, _build, (UNWRITABLE, NO_ROOM),
    stops="all",
    clears="by itself, once the record can be written",
    why="limits over days live in the record; a feed that is not written down is forgotten by them",
)  # fmt: skip
