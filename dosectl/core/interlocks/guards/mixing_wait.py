"""Mixing wait: the probe sees a pumped feed before the next one begins."""

from dataclasses import dataclass

from dosectl.core.evidence import Evidence
from dosectl.core.interlocks.answers import deny, moment
from dosectl.core.interlocks.guard import GuardKind, Memory, Need
from dosectl.core.interlocks.mixed import wait_after_s
from dosectl.core.site import Feeder, Site
from dosectl.model.feeds import FeederId, Substance
from dosectl.model.ranges import setting
from dosectl.model.reasons import Code, ReasonKind
from dosectl.model.verdicts import Permit, Verdict

CODE = Code("mixing.wait")

MIXING = ReasonKind(
    Code("mixing.waiting"),
    "The feed of {feeder} that ended at {since} mixes first: the next after {wait_min:.0f} min of water flow.",
)


@dataclass(frozen=True, slots=True)
class MixingWaitParams:
    chlorine_s: float = setting(
        1200.0, ge=600.0, le=7200.0, unit="s of flow", why="engineering judgement: a feed reaches the probe"
    )
    acid_s: float = setting(
        1800.0, ge=900.0, le=7200.0, unit="s of flow", why="engineering judgement: as chlorine, with the pH probe's lag"
    )


@dataclass(frozen=True, slots=True)
class MixingWait:
    """A feed that still goes on (the last command is ON and lives) is not waited for: the single-feed limit ends it.

    even : the feeder gives its rate all the time; then a long feed's wait counts from its middle
    """

    feeders: tuple[FeederId, ...]
    feeder: FeederId
    wait_s: float
    code: Code
    permit: Permit
    even: bool = False
    needs: tuple[Need, ...] = ()

    def judge(self, evidence: Evidence, memory: Memory) -> tuple[Verdict, Memory]:
        facts = evidence.feeders[self.feeder]
        wait_s = wait_after_s(self.wait_s, facts.run_flow_s) if self.even else self.wait_s
        if facts.asked_on or self._passed_s(evidence) >= wait_s:
            return self.permit, memory
        why = MIXING.because(moment(evidence, facts.ran_s), feeder=self.feeder, wait_min=wait_s / 60.0)
        return deny(self.code, why), memory

    def _passed_s(self, evidence: Evidence) -> float:
        """Seconds of proven flow since the last feed; where its flow time is not known, those of the present run of the pump."""
        facts = evidence.feeders[self.feeder]
        if facts.ran_flow_s is not None:
            return evidence.flow.clock_s - facts.ran_flow_s
        fed_s = evidence.ledger.of(self.feeder).last_fed_s()
        if fed_s is None:
            return self.wait_s
        since_s = evidence.flow.since_s
        return 0.0 if since_s is None else evidence.clock_s - max(fed_s, since_s)


def _build(site: Site, params: MixingWaitParams) -> tuple[MixingWait, ...]:
    def one(feeder: Feeder) -> MixingWait:
        if feeder.substance is Substance.CHLORINE:
            return MixingWait((feeder.id,), feeder.id, params.chlorine_s, CODE, Permit(CODE), even=not feeder.percent)
        return MixingWait((feeder.id,), feeder.id, params.acid_s, CODE, Permit(CODE))

    return tuple(one(feeder) for feeder in site.feeders if feeder.kind != "cell")


KIND = GuardKind(
    CODE, MixingWaitParams, _build, (MIXING,),
    stops="that feeder",
    clears="by itself after 20 min of flow (acid 30), less half the time that a long feed of chlorine took, yet at least 10",
    why="what is fed but not yet seen would be fed again",
)  # fmt: skip
