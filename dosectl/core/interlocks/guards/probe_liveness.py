"""Probe liveness: a value that does not move over two starts of the pump is not a measurement."""

from dataclasses import dataclass, replace

from dosectl.core.evidence import Evidence
from dosectl.core.interlocks.answers import deny, moment
from dosectl.core.interlocks.fallback import fallback_limit
from dosectl.core.interlocks.guard import GuardKind, Memory, Need
from dosectl.core.site import Site
from dosectl.model.feeds import FeederId, Substance
from dosectl.model.ranges import setting
from dosectl.model.reasons import Code, ReasonKind
from dosectl.model.signals import SignalId, SignalKind, Status
from dosectl.model.verdicts import Permit, Verdict

CODE = Code("probe.liveness")
STARTS_MAX = 2

STILL = ReasonKind(
    Code("liveness.still"),
    "The {signal} value has not moved over two starts of the pump (noticed at {since}); acid waits. Check the probe and "
    "what publishes it.",
)
FALLBACK = ReasonKind(
    Code("liveness.fallback"),
    "The {signal} value has not moved over two starts of the pump (noticed at {since}); chlorine runs blind at "
    "{rate_mg_l_day} mg/L a day. Check "
    "the probe and what publishes it.",
)


@dataclass(frozen=True, slots=True)
class ProbeLivenessParams:
    orp_mv: float = setting(1.0, ge=0.1, le=10.0, unit="mV", why="common practice: resolution of ORP transmitters")
    ph: float = setting(0.01, ge=0.001, le=0.1, unit="pH", why="common practice: resolution of pH transmitters")
    moving_s: float = setting(600.0, ge=60.0, le=7200.0, unit="s", why="engineering judgement: movement, not a single jolt")


@dataclass(frozen=True, slots=True)
class ProbeLiveness:
    """Memory: marks = (value at the last start of the pump, 1 once it moved since); count = starts without movement;
    since_s = the start counted last; until_s = when movement is believed after a doubt.
    """

    feeders: tuple[FeederId, ...]
    signal: SignalId
    step: float
    fall_back: bool
    params: ProbeLivenessParams
    code: Code
    permit: Permit
    needs: tuple[Need, ...] = ()

    def judge(self, evidence: Evidence, memory: Memory) -> tuple[Verdict, Memory]:
        started_s = evidence.flow.pump_started_s
        moved = len(memory.marks) == 2 and memory.marks[1] > 0.0
        if moved and memory.since_s == started_s and memory.count < STARTS_MAX:
            return self.permit, memory
        reading = evidence.readings.get(self.signal)
        value = None if reading is None else reading.number(Status.OUT_OF_SPEC)
        if value is not None:
            memory = self._followed(evidence, memory, value, started_s)
        if memory.count < STARTS_MAX:
            return self.permit, memory
        if self.fall_back:
            return fallback_limit(self.code, FALLBACK, evidence, memory.since_s, self.signal), memory
        return deny(self.code, STILL.because(moment(evidence, memory.since_s), signal=self.signal)), memory

    def _followed(self, evidence: Evidence, memory: Memory, value: float, started_s: float | None) -> Memory:
        if len(memory.marks) != 2:
            return replace(memory, marks=(value, 0.0), since_s=started_s)
        anchor, moved = memory.marks
        if not moved and abs(value - anchor) >= self.step * (1.0 - 1e-9):
            moved = 1.0
            memory = replace(memory, marks=(anchor, moved))
        if memory.count >= STARTS_MAX:
            return self._doubted(evidence, memory, moved)
        if started_s is None or started_s == memory.since_s:
            return memory
        if memory.since_s is None:  # after a restart the start that is going on is not counted twice
            return replace(memory, since_s=started_s)
        if moved:
            return replace(memory, marks=(value, 0.0), count=0, since_s=started_s)
        return replace(memory, count=memory.count + 1, since_s=started_s)

    def _doubted(self, evidence: Evidence, memory: Memory, moved: float) -> Memory:
        if not moved:
            return memory
        if memory.until_s is None:
            return replace(memory, until_s=evidence.clock_s + self.params.moving_s)
        return replace(memory, count=0, until_s=None) if evidence.clock_s >= memory.until_s else memory


def _build(site: Site, params: ProbeLivenessParams) -> tuple[ProbeLiveness, ...]:
    chlorine, acid = site.feeding(Substance.CHLORINE), site.feeding(Substance.ACID)
    guards: list[ProbeLiveness] = []
    for kind, step, feeders, fall_back in (
        (SignalKind.ORP, params.orp_mv, chlorine, True),
        (SignalKind.PH, params.ph, chlorine, True),
        (SignalKind.PH, params.ph, acid, False),
    ):
        signal = site.first(kind)
        if signal is not None and feeders:
            code = Code(f"{CODE}.{signal.id}")
            guards.append(ProbeLiveness(feeders, signal.id, step, fall_back, params, code, Permit(code)))
    return tuple(guards)


KIND = GuardKind(
    CODE, ProbeLivenessParams, _build, (STILL, FALLBACK),
    stops="acid on pH; chlorine falls back on ORP and pH",
    clears="by itself after 10 min of moving",
    why="a frozen converter repeats a plausible value; quiet water is flat too, so the pump's start is the stimulus",
)  # fmt: skip
