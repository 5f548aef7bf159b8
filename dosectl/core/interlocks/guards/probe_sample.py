"""Sample flow: probes that get no fresh water show the past."""

from dataclasses import dataclass, replace

from dosectl.core.evidence import Evidence
from dosectl.core.interlocks.answers import deny, moment
from dosectl.core.interlocks.fallback import fallback_limit
from dosectl.core.interlocks.guard import GuardKind, Memory, Need
from dosectl.core.site import Site
from dosectl.model.feeds import FeederId, Substance
from dosectl.model.ranges import setting
from dosectl.model.reasons import Code, ReasonKind
from dosectl.model.signals import SignalId, SignalKind
from dosectl.model.verdicts import Permit, Verdict

CODE = Code("probe.sample")
PERMIT = Permit(CODE)

DRY = ReasonKind(
    Code("sample.lost"),
    "The probes get no fresh water since {since} ({signal}); acid waits. With the pump off at its breaker check "
    "the sample line's valve and filter.",
)
FALLBACK = ReasonKind(
    Code("sample.fallback"),
    "The probes get no fresh water since {since} ({signal}); chlorine runs blind at {rate_mg_l_day} mg/L a day. With the "
    "pump off at its breaker check the sample line's valve and filter.",
)


@dataclass(frozen=True, slots=True)
class ProbeSampleParams:
    lost_s: float = setting(30.0, ge=5.0, le=600.0, unit="s", why="engineering judgement: longer than a bubble in the line")
    back_s: float = setting(240.0, ge=60.0, le=3600.0, unit="s", why="engineering judgement: 60 s of flow, then 3 min to settle")


@dataclass(frozen=True, slots=True)
class ProbeSample:
    """Memory: since_s = sample flow missing since; count = 1 while lost; until_s = when it is believed again."""

    feeders: tuple[FeederId, ...]
    signal: SignalId
    fall_back: bool
    params: ProbeSampleParams
    code: Code = CODE
    needs: tuple[Need, ...] = ()
    permit: Permit = PERMIT

    def judge(self, evidence: Evidence, memory: Memory) -> tuple[Verdict, Memory]:
        reading = evidence.readings.get(self.signal)
        flows = reading is not None and reading.switch() is True
        if flows and memory.since_s is None and memory.count == 0:
            return self.permit, memory
        if evidence.flow.proven:  # with the pump off a dry sample line is as it should be
            memory = self._followed(evidence, memory, flows)
        if memory.count == 0:
            return self.permit, memory
        if self.fall_back:
            return fallback_limit(CODE, FALLBACK, evidence, memory.since_s, self.signal), memory
        return deny(CODE, DRY.because(moment(evidence, memory.since_s), signal=self.signal)), memory

    def _followed(self, evidence: Evidence, memory: Memory, flows: bool) -> Memory:
        clock_s = evidence.clock_s
        if not flows:
            if memory.since_s is None or memory.until_s is not None:
                memory = replace(memory, since_s=clock_s if memory.since_s is None else memory.since_s, until_s=None)
            proven_s = evidence.flow.since_s
            began_s = max(memory.since_s or clock_s, clock_s if proven_s is None else proven_s)
            return replace(memory, count=1) if memory.count == 0 and clock_s - began_s >= self.params.lost_s else memory
        if memory.count == 0:
            return replace(memory, since_s=None, until_s=None)
        if memory.until_s is None:
            return replace(memory, until_s=clock_s + self.params.back_s)
        return replace(memory, since_s=None, until_s=None, count=0) if clock_s >= memory.until_s else memory


def _build(site: Site, params: ProbeSampleParams) -> tuple[ProbeSample, ...]:
    signal = site.first(SignalKind.SAMPLE_FLOW)
    if signal is None:
        return ()
    groups = ((site.feeding(Substance.CHLORINE), True), (site.feeding(Substance.ACID), False))
    return tuple(ProbeSample(feeders, signal.id, fall_back, params) for feeders, fall_back in groups if feeders)


KIND = GuardKind(
    CODE, ProbeSampleParams, _build, (DRY, FALLBACK),
    stops="acid; chlorine falls back",
    clears="by itself after 60 s of sample flow and 3 min to settle",
    why="an isolated probe holds its last value while the pool goes on",
    fits=lambda _site: True,
)  # fmt: skip
