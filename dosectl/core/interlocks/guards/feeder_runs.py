"""Runs though asked off: a welded contact, a hung node, or someone else's hand."""

from dataclasses import dataclass, replace

from dosectl.core.evidence import Evidence
from dosectl.core.interlocks.answers import latch, moment, standing
from dosectl.core.interlocks.guard import GuardKind, Memory, Need
from dosectl.core.site import Feeder, Site
from dosectl.model.feeds import FeederId
from dosectl.model.ranges import setting
from dosectl.model.reasons import Code, ReasonKind
from dosectl.model.signals import SignalId
from dosectl.model.verdicts import Permit, Verdict

CODE = Code("feeder.runs")
AGAIN_S = 1.0

RUNS = ReasonKind(
    Code("feeder.runs_unasked"),
    "{feeder} was asked off and still runs {ran_s:.0f} s later (seen since {since}); all feeding is locked. Have "
    "the power cut from outside; who smells chlorine stays out and calls for help.",
)


@dataclass(frozen=True, slots=True)
class FeederRunsParams:
    off_s: float = setting(
        3.0, ge=1.0, le=15.0, unit="s", why="engineering judgement: an OFF and its feedback take well under a second"
    )


@dataclass(frozen=True, slots=True)
class FeederRuns:
    """One per feeder with feedback; binds all. Memory: since_s = time of the first message that showed it running too late.

    Two such messages are needed: the first may have waited in a broken connection. A command's own end is awaited, and after a
    start the node's expiry: an OFF that gets lost ends by it within seconds, and nobody must be sent to the wall for that. What
    runs meanwhile is booked, and the other substance is locked out by the same feedback. A welded contact outlives every command.
    """

    feeders: tuple[FeederId, ...]
    feeder: FeederId
    feedback: SignalId
    params: FeederRunsParams
    code: Code
    permit: Permit
    needs: tuple[Need, ...] = ()

    def judge(self, evidence: Evidence, memory: Memory) -> tuple[Verdict, Memory]:
        running, asked_s = evidence.feeders[self.feeder].running, evidence.silent_by_s(self.feeder)
        if not running or asked_s is None:
            if memory.since_s is not None and running is not None:
                memory = replace(memory, since_s=None)
            return (self.permit if memory.latched is None else standing(self.code, memory)), memory
        seen_s = evidence.readings[self.feedback].at_s
        if seen_s is not None and seen_s - asked_s > self.params.off_s:
            if memory.since_s is None:
                memory = replace(memory, since_s=seen_s)
            elif seen_s - memory.since_s >= AGAIN_S:
                why = RUNS.because(moment(evidence, memory.since_s), feeder=self.feeder, ran_s=round(seen_s - asked_s))
                return latch(self.code, memory, why)
        return (self.permit if memory.latched is None else standing(self.code, memory)), memory


def _build(site: Site, params: FeederRunsParams) -> tuple[FeederRuns, ...]:
    everyone = tuple(feeder.id for feeder in site.feeders)

    def one(feeder: Feeder, feedback: SignalId) -> FeederRuns:
        code = Code(f"{CODE}.{feeder.id}")
        return FeederRuns(everyone, feeder.id, feedback, params, code, Permit(code))

    return tuple(one(feeder, feeder.feedback) for feeder in site.feeders if feeder.feedback is not None)


def _lacks(site: Site, _params: FeederRunsParams) -> bool:
    """A feeder without feedback: nobody sees a welded contact."""
    return any(feeder.feedback is None for feeder in site.feeders)


KIND = GuardKind(
    CODE, FeederRunsParams, _build, (RUNS,),
    stops="all",
    clears="by a person, with the feeder off",
    why="a feeder that can't be switched off by command overdoses until its power is cut",
    lacks=_lacks,
)  # fmt: skip
