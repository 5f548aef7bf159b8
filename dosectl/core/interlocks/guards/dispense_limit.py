"""Prime and dispense: what a person lets run by hand is short, counted, and judged by every other guard as well."""

from dataclasses import dataclass, replace

from dosectl.core.evidence import Evidence
from dosectl.core.interlocks.answers import deny, moment
from dosectl.core.interlocks.guard import GuardKind, Memory, Need
from dosectl.core.interlocks.usage import HOUR_S
from dosectl.core.site import Feeder, Site
from dosectl.model.feeds import FeederId
from dosectl.model.ranges import setting
from dosectl.model.reasons import Code, ReasonKind
from dosectl.model.verdicts import Limit, Permit, Verdict

CODE = Code("dispense.limit")
SECONDS_CEILING = 120.0

RUNNING = ReasonKind(
    Code("dispense.ending"),
    "Dispensing with {feeder} began at {since} and ends after {seconds:.0f} s; {left} more are possible this hour.",
)
TOO_MANY = ReasonKind(
    Code("dispense.too_many"),
    "{feeder} was let run {times} times within an hour, the last at {since}; wait until the hour has passed.",
)


@dataclass(frozen=True, slots=True)
class DispenseLimitParams:
    seconds: float = setting(60.0, ge=5.0, le=SECONDS_CEILING, unit="s", why="common practice: a drawdown reading takes a minute")
    times: int = setting(3, ge=1, le=6, unit="runs in 1 h", why="common practice: three readings make a rate")


@dataclass(frozen=True, slots=True)
class DispenseLimit:
    """Memory: since_s = begin of the present run; marks = (booked at its begin [g], begins of the runs of the last hour ...)."""

    feeders: tuple[FeederId, ...]
    feeder: FeederId
    rate_g_s: float
    params: DispenseLimitParams
    code: Code
    permit: Permit
    needs: tuple[Need, ...] = ()

    def judge(self, evidence: Evidence, memory: Memory) -> tuple[Verdict, Memory]:
        if evidence.dispense != self.feeder:
            return self.permit, memory if memory.since_s is None else replace(memory, since_s=None)
        booked_g = evidence.ledger.of(self.feeder).total_g
        if memory.since_s is None:
            begins = tuple(mark for mark in memory.marks[1:] if mark > evidence.clock_s - HOUR_S)
            if len(begins) >= self.params.times:
                why = TOO_MANY.because(moment(evidence, begins[-1]), feeder=self.feeder, times=len(begins))
                return deny(self.code, why), memory
            memory = replace(memory, since_s=evidence.clock_s, marks=(booked_g, *begins, evidence.clock_s))
        left_g = self.params.seconds * self.rate_g_s - (booked_g - memory.marks[0])
        runs_left = max(0, self.params.times - len(memory.marks) + 1)
        why = RUNNING.because(moment(evidence, memory.since_s), feeder=self.feeder, seconds=self.params.seconds, left=runs_left)
        return Limit(self.code, max(0.0, left_g), why), memory


def _build(site: Site, params: DispenseLimitParams) -> tuple[DispenseLimit, ...]:
    def one(feeder: Feeder) -> DispenseLimit:
        return DispenseLimit((feeder.id,), feeder.id, feeder.rate_g_s, params, CODE, Permit(CODE))

    return tuple(map(one, site.feeders))


KIND = GuardKind(
    CODE, DispenseLimitParams, _build, (RUNNING, TOO_MANY),
    stops="limits that feeder",
    clears="with the next run; three an hour",
    why="priming is the one feed that no probe asked for",
)  # fmt: skip
