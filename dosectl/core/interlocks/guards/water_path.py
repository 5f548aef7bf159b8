"""Water path: in backwash the feed would go to the drain, or stand."""

from dataclasses import dataclass, replace

from dosectl.core.evidence import Evidence
from dosectl.core.interlocks.answers import deny, moment, switch_is
from dosectl.core.interlocks.guard import GuardKind, Memory, Need
from dosectl.core.site import Site
from dosectl.model.feeds import FeederId
from dosectl.model.ranges import setting
from dosectl.model.reasons import Code, ReasonKind
from dosectl.model.signals import SignalId, SignalKind
from dosectl.model.verdicts import Permit, Verdict

CODE = Code("water.path")
PERMIT = Permit(CODE)

MOVED = ReasonKind(
    Code("water.not_filtering"),
    "The valve is not in filter position, or was not until just now ({signal}, since {since}); feeding waits.",
)


@dataclass(frozen=True, slots=True)
class WaterPathParams:
    wait_s: float = setting(
        120.0, ge=30.0, le=1800.0, unit="s", why="engineering judgement: the pipe is filled with pool water again"
    )


@dataclass(frozen=True, slots=True)
class WaterPath:
    """Memory: since_s = out of filter position since; until_s = end of the wait."""

    feeders: tuple[FeederId, ...]
    signal: SignalId
    params: WaterPathParams
    code: Code = CODE
    needs: tuple[Need, ...] = ()
    permit: Permit = PERMIT

    def judge(self, evidence: Evidence, memory: Memory) -> tuple[Verdict, Memory]:
        if switch_is(evidence, self.signal) is True and not self._dipped(evidence):
            if memory.until_s is None:
                return self.permit, memory
            if evidence.clock_s >= memory.until_s:
                return self.permit, replace(memory, since_s=None, until_s=None)
        else:
            since_s = evidence.clock_s if memory.since_s is None else memory.since_s
            memory = replace(memory, since_s=since_s, until_s=evidence.clock_s + self.params.wait_s)
        return deny(CODE, MOVED.because(moment(evidence, memory.since_s), signal=self.signal)), memory

    def _dipped(self, evidence: Evidence) -> bool:
        return any(sample.signal == self.signal and sample.raw is False for sample in evidence.samples)


def _build(site: Site, params: WaterPathParams) -> tuple[WaterPath, ...]:
    signal = site.first(SignalKind.WATER_PATH)
    return () if signal is None else (WaterPath(tuple(feeder.id for feeder in site.feeders), signal.id, params),)


KIND = GuardKind(
    CODE, WaterPathParams, _build, (MOVED,),
    stops="all",
    clears="by itself 2 min after the valve is back",
    why="flow alone does not say where the water goes",
    fits=lambda _site: True,
)  # fmt: skip
