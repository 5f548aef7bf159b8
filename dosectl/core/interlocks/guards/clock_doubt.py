"""Clock doubt: durations rest on the monotonic clock; days, and so the fall-back rate, on the wall clock."""

import math
from dataclasses import dataclass, replace

from dosectl.core.evidence import Evidence
from dosectl.core.interlocks.answers import deny, moment, utc_text
from dosectl.core.interlocks.guard import GuardKind, Memory, Need
from dosectl.core.site import Site
from dosectl.model.feeds import FeederId, Substance
from dosectl.model.ranges import setting
from dosectl.model.reasons import Code, ReasonKind
from dosectl.model.verdicts import Permit, Verdict

CODE = Code("clock.doubt")
PERMIT = Permit(CODE)
DAY_S = 86400.0
COUNTED_S = 0.1  # smaller differences are the ordinary steering of a clock

MONOTONIC = ReasonKind(
    Code("clock.monotonic"),
    "The time since the start makes no sense at {since}, so no limit can be trusted; nothing is fed. Restart the machine.",
)
JUMPED = ReasonKind(
    Code("clock.jumped"),
    "The wall clock jumped or is not set (since {since}, {drift_s:.0f} s off in a day); chlorine at the fall-back rate "
    "waits until the clock "
    "has been steady, not before {until_utc}. Limits count as if no time had passed.",
)


@dataclass(frozen=True, slots=True)
class ClockDoubtParams:
    jump_s: float = setting(
        5.0, ge=1.0, le=60.0, unit="s", why="engineering judgement: a steered clock moves by milliseconds a step"
    )
    day_s: float = setting(
        60.0, ge=10.0, le=600.0, unit="s", why="engineering judgement: a healthy clock drifts a few seconds a day"
    )
    steady_s: float = setting(
        900.0, ge=300.0, le=7200.0, unit="s", why="engineering judgement: time synchronisation settles within minutes"
    )


@dataclass(frozen=True, slots=True)
class ClockDoubt:
    """Memory: since_s = begin of the doubt, until_s = its end; marks = (begin of the day counted, drift in it) [s].

    Doubt of the wall clock stops nothing that rests on durations alone: only chlorine that is on the fall-back rate waits.
    """

    feeders: tuple[FeederId, ...]
    params: ClockDoubtParams
    chlorine: bool
    code: Code = CODE
    needs: tuple[Need, ...] = ()
    permit: Permit = PERMIT

    def judge(self, evidence: Evidence, memory: Memory) -> tuple[Verdict, Memory]:
        clock_s = evidence.clock_s
        since_s = evidence.flow.since_s
        started_s = evidence.start.started_s
        if not math.isfinite(clock_s) or clock_s < started_s or (since_s is not None and since_s > clock_s):
            return deny(CODE, MONOTONIC.because(evidence.now)), memory
        jump_s = abs(evidence.clock_jump_s)
        if jump_s > COUNTED_S or not evidence.health.clock_trusted:
            memory = self._counted(evidence, memory, jump_s)
        if memory.until_s is None:
            return self.permit, memory
        if clock_s >= memory.until_s:
            return self.permit, replace(memory, since_s=None, until_s=None)
        if not self.chlorine or evidence.standing.fallback_since_s is None:
            return self.permit, memory
        drift_s = memory.marks[1] if memory.marks else 0.0
        until = utc_text(evidence, memory.until_s)
        return deny(CODE, JUMPED.because(moment(evidence, memory.since_s), drift_s=drift_s, until_utc=until)), memory

    def _counted(self, evidence: Evidence, memory: Memory, jump_s: float) -> Memory:
        clock_s = evidence.clock_s
        if not memory.marks or clock_s - memory.marks[0] > DAY_S:
            memory = replace(memory, marks=(clock_s, 0.0))
        if jump_s > COUNTED_S:
            memory = replace(memory, marks=(memory.marks[0], memory.marks[1] + jump_s))
        if jump_s > self.params.jump_s or memory.marks[1] > self.params.day_s or not evidence.health.clock_trusted:
            began_s = clock_s if memory.since_s is None else memory.since_s
            memory = replace(memory, since_s=began_s, until_s=clock_s + self.params.steady_s)
        return memory


def _build(site: Site, params: ClockDoubtParams) -> tuple[ClockDoubt, ...]:
    chlorine = site.feeding(Substance.CHLORINE)
    others = tuple(feeder.id for feeder in site.feeders if feeder.substance is not Substance.CHLORINE)
    groups = ((chlorine, True), (others, False))
    return tuple(ClockDoubt(feeders, params, is_chlorine) for feeders, is_chlorine in groups if feeders)


KIND = GuardKind(
    CODE, ClockDoubtParams, _build, (MONOTONIC, JUMPED),
    stops="all on doubt of the monotonic clock; chlorine at the fall-back rate on doubt of the wall clock",
    clears="by itself after 15 steady minutes",
    why="a clock that jumps could age the windows of the limits, or start the next day's feed early",
)  # fmt: skip
