"""Still though asked on: the record says fed, the water gets nothing."""

from dataclasses import dataclass, replace

from dosectl.core.evidence import Evidence
from dosectl.core.interlocks.answers import deny, latch, moment, standing
from dosectl.core.interlocks.guard import GuardKind, Memory, Need
from dosectl.core.site import Feeder, Site
from dosectl.model.feeds import FeederId
from dosectl.model.ranges import setting
from dosectl.model.reasons import Code, ReasonKind
from dosectl.model.signals import SignalId
from dosectl.model.verdicts import Permit, Verdict

CODE = Code("feeder.still")
TRIES = 2
BETWEEN_S = 60.0

RETRY = ReasonKind(Code("feeder.no_start"), "{feeder} was asked on at {since} and does not run; it is tried once more.")
STILL = ReasonKind(
    Code("feeder.stands_still"),
    "{feeder} did not run when it was asked on twice, last at {since}; it is locked. Check its power "
    "and node; motor and tube only by someone trained.",
)


@dataclass(frozen=True, slots=True)
class FeederStillParams:
    pump_s: float = setting(
        5.0, ge=2.0, le=60.0, unit="s", why="engineering judgement: a motor runs, and says so, within a second"
    )
    cell_s: float = setting(
        15.0, ge=2.0, le=300.0, unit="s", why="engineering judgement: a cell's supply starts softly and may change polarity"
    )


@dataclass(frozen=True, slots=True)
class FeederStill:
    """Memory: count = askings in a row without running; marks = (begin of the asking counted last,); until_s = pause
    between tries; recent = (seen running last,)."""

    feeders: tuple[FeederId, ...]
    feeder: FeederId
    feedback: SignalId
    limit_s: float
    code: Code
    permit: Permit
    needs: tuple[Need, ...] = ()

    def judge(self, evidence: Evidence, memory: Memory) -> tuple[Verdict, Memory]:
        facts = evidence.feeders[self.feeder]
        asked_s = facts.asked_on_since_s
        if facts.asked_on and asked_s is not None:
            if facts.running:
                if memory.count and memory.marks != (asked_s,):
                    memory = replace(memory, count=0, marks=(), until_s=None)
                memory = replace(memory, recent=(evidence.clock_s,))
            elif facts.running is False and evidence.flow.proven:
                memory = self._not_running(evidence, memory, asked_s)
        if memory.latched is not None:
            return standing(self.code, memory), memory
        if memory.count >= TRIES:
            why = STILL.because(moment(evidence, memory.marks[0]), feeder=self.feeder)
            return latch(self.code, replace(memory, until_s=None), why)
        if memory.until_s is None:
            return self.permit, memory
        if evidence.clock_s >= memory.until_s:
            return self.permit, replace(memory, until_s=None)
        return deny(self.code, RETRY.because(moment(evidence, memory.marks[0]), feeder=self.feeder)), memory

    def _not_running(self, evidence: Evidence, memory: Memory, asked_s: float) -> Memory:
        seen_s = evidence.readings[self.feedback].at_s
        # A last command may end a moment early by the node's clock: it is off for the limit that counts, not asked for it.
        ran_s = memory.recent[0] if memory.recent else asked_s
        if seen_s is None or seen_s - max(asked_s, ran_s) <= self.limit_s or memory.marks == (asked_s,):
            return memory
        return replace(memory, count=memory.count + 1, marks=(asked_s,), until_s=evidence.clock_s + BETWEEN_S)


def _build(site: Site, params: FeederStillParams) -> tuple[FeederStill, ...]:
    def one(feeder: Feeder, feedback: SignalId) -> FeederStill:
        limit_s = params.cell_s if feeder.kind == "cell" else params.pump_s
        return FeederStill((feeder.id,), feeder.id, feedback, limit_s, CODE, Permit(CODE))

    return tuple(one(feeder, feeder.feedback) for feeder in site.feeders if feeder.feedback is not None)


KIND = GuardKind(
    CODE, FeederStillParams, _build, (RETRY, STILL),
    stops="that feeder",
    clears="by a person",
    why="a pump that does not run leaves the pool without chlorine while the ledger fills",
)  # fmt: skip
