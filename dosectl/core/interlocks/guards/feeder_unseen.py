"""Not seen: whether a feeder runs is not known, so nobody would notice that it runs on."""

from dataclasses import dataclass, replace

from dosectl.core.evidence import Evidence
from dosectl.core.interlocks.answers import deny, moment
from dosectl.core.interlocks.guard import GuardKind, Memory, Need
from dosectl.core.site import Feeder, Site
from dosectl.model.feeds import FeederId
from dosectl.model.reasons import Code, ReasonKind
from dosectl.model.verdicts import Permit, Verdict

CODE = Code("feeder.unseen")

AWAITED_S = 60.0  # engineering judgement: a node that tells its load by the clock alone does so each minute

AWAITED = ReasonKind(
    Code("feeder.awaited"), "{feeder} was told to stop at {since}; feeding waits until its feedback has shown it off."
)
UNSEEN = ReasonKind(
    Code("feeder.unseen"),
    "Whether {feeder} runs is not known since {since}, so a feed that does not end would not be seen; all feeding waits until "
    "its feedback is back. Check its node and the meter at its load.",
)


@dataclass(frozen=True, slots=True)
class FeederUnseen:
    """One per feeder with feedback; binds all, as does a feeder that is seen to run unasked: what is not known must not permit
    more than the worst that it may hide. After each OFF it is so for a moment, which is no fault. Memory: since_s = since when
    nothing is known."""

    feeders: tuple[FeederId, ...]
    feeder: FeederId
    code: Code
    permit: Permit
    needs: tuple[Need, ...] = ()

    def judge(self, evidence: Evidence, memory: Memory) -> tuple[Verdict, Memory]:
        if evidence.feeders[self.feeder].running is not None:
            return self.permit, memory if memory.since_s is None else replace(memory, since_s=None)
        if memory.since_s is None:
            memory = replace(memory, since_s=evidence.clock_s)
        kind = AWAITED if self._awaited(evidence, memory) else UNSEEN
        return deny(self.code, kind.because(moment(evidence, memory.since_s), feeder=self.feeder)), memory

    def _awaited(self, evidence: Evidence, memory: Memory) -> bool:
        """Whether it was known until the last OFF, which is no older than a minute."""
        off_s, since_s = evidence.feeders[self.feeder].asked_off_since_s, memory.since_s
        return off_s is not None and since_s is not None and since_s >= off_s and evidence.clock_s - off_s < AWAITED_S


def _build(site: Site, _: None) -> tuple[FeederUnseen, ...]:
    everyone = tuple(feeder.id for feeder in site.feeders)

    def one(feeder: Feeder) -> FeederUnseen:
        code = Code(f"{CODE}.{feeder.id}")
        return FeederUnseen(everyone, feeder.id, code, Permit(code))

    return tuple(one(feeder) for feeder in site.feeders if feeder.feedback is not None)


KIND = GuardKind(
    CODE, None, _build, (UNSEEN, AWAITED),
    stops="all",
    clears="by itself, once the feedback is back",
    why="a welded contact shows in the feedback alone",
)  # fmt: skip
