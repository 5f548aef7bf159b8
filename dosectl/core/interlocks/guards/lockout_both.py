"""Both ran: feedback shows acid and chlorine running at once, whatever was asked."""

from dataclasses import dataclass

from dosectl.core.evidence import Evidence
from dosectl.core.interlocks.answers import latch, moment, standing
from dosectl.core.interlocks.guard import GuardKind, Memory, Need
from dosectl.core.site import Site
from dosectl.model.feeds import FeederId
from dosectl.model.reasons import Code, ReasonKind
from dosectl.model.verdicts import Permit, Verdict

CODE = Code("lockout.both")
PERMIT = Permit(CODE)
OVERLAP_S = 0.5

BOTH = ReasonKind(
    Code("lockout.both_ran"),
    "{first} and {second} ran at once since {since}; both are locked. Keep everyone out of the water, do not enter the "
    "plant room; who smells chlorine stays out and calls for help. Have the power cut from outside, and the wiring mended "
    "before this is cleared.",
)


@dataclass(frozen=True, slots=True)
class LockoutBoth:
    feeders: tuple[FeederId, ...]
    grouped: tuple[tuple[FeederId, str], ...]  # feeders with feedback and their lockout groups
    code: Code = CODE
    needs: tuple[Need, ...] = ()
    permit: Permit = PERMIT

    def judge(self, evidence: Evidence, memory: Memory) -> tuple[Verdict, Memory]:
        first: FeederId | None = None
        first_group = ""
        first_since_s = 0.0
        for feeder, group in self.grouped:
            since_s = evidence.feeders[feeder].feedback_on_since_s
            if since_s is None or not evidence.feeders[feeder].running:
                continue
            if first is None:
                first, first_group, first_since_s = feeder, group, since_s
            elif group != first_group:
                both_since_s = max(first_since_s, since_s)
                if evidence.clock_s - both_since_s > OVERLAP_S:
                    return latch(CODE, memory, BOTH.because(moment(evidence, both_since_s), first=first, second=feeder))
        return (self.permit if memory.latched is None else standing(CODE, memory)), memory


def _build(site: Site, _: None) -> tuple[LockoutBoth, ...]:
    grouped = tuple((feeder.id, feeder.lockout_group) for feeder in site.feeders if feeder.feedback is not None)
    if len({group for _, group in grouped}) < 2:
        return ()
    return (LockoutBoth(tuple(feeder.id for feeder in site.feeders), grouped),)


KIND = GuardKind(
    CODE, None, _build, (BOTH,),
    stops="all",
    clears="by a person at the plant",
    why="acid and hypochlorite at once mean gas, and a fault of wiring or node",
)  # fmt: skip
