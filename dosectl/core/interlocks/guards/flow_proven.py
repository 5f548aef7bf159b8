"""Flow proven: nothing is fed unless two kinds of evidence show that water moves, and have done so for the proving time."""

from dataclasses import dataclass, replace

from dosectl.core.evidence import Evidence
from dosectl.core.interlocks.answers import deny, moment, utc_text
from dosectl.core.interlocks.guard import GuardKind, Memory, Need
from dosectl.core.site import Feeder, Site
from dosectl.model.feeds import FeederId
from dosectl.model.ranges import setting
from dosectl.model.reasons import Code, ReasonKind
from dosectl.model.signals import SignalId, SignalKind
from dosectl.model.verdicts import Permit, Verdict

CODE = Code("flow.proven")
PERMIT = Permit(CODE)
FLOW_AGE_S_MAX = 10.0  # ceiling: an older reading proves nothing, whatever the plan allows the signal
PROVING_GROWTH = (1.0, 10.0, 60.0, 360.0)  # times the ordinary proving time, per level
LOSSES_PER_LEVEL = 5
LOSS_WINDOW_S = 3600.0
NORMAL_STOP_S = 15.0  # flow and pump report a switched-off pump at most this far apart

UNPROVEN = ReasonKind(
    Code("flow.unproven"),
    "No water flow is proven since {since}; all feeding is stopped. Unless the pump is meant to "
    "be off: look at it from outside; basket and valves only with the pump off at its breaker.",
)
PROVING = ReasonKind(
    Code("flow.proving"),
    "Water flow is back since {since}; it must hold for {proving_s:.0f} s before anything is fed, so not before {until_utc}.",
)
ONE_PRINCIPLE = ReasonKind(
    Code("flow.one_principle"),
    "Only one kind of flow evidence is fitted, so this feeder is never run. Add the missing signal (flow switch and pump power).",
)


@dataclass(frozen=True, slots=True)
class FlowProvenParams:
    proving_s: float = setting(
        60.0, ge=30.0, le=600.0, unit="s", why="engineering judgement: longer than a valve's stroke or a pump's priming flutter"
    )


@dataclass(frozen=True, slots=True)
class FlowProven:
    """Memory: since_s = the proven run seen last; until_s = when a loss in progress counts; marks = losses [plant
    clock]; count = level."""

    feeders: tuple[FeederId, ...]
    signals: tuple[SignalId, ...]  # all must be on; empty: too few principles, always denied
    params: FlowProvenParams
    code: Code = CODE
    needs: tuple[Need, ...] = ()
    permit: Permit = PERMIT

    def judge(self, evidence: Evidence, memory: Memory) -> tuple[Verdict, Memory]:
        if not self.signals:
            return deny(CODE, ONE_PRINCIPLE.because(evidence.now)), memory
        flow = evidence.flow
        since_s = flow.since_s
        if not flow.proven or flow.broken or since_s is None or not self._all_on(evidence):
            memory = self._losing(evidence, memory)
            return deny(CODE, UNPROVEN.because(moment(evidence, self._lost_s(evidence, memory)))), memory
        if memory.since_s != since_s or memory.until_s is not None:
            memory = self._regained(evidence, memory, since_s)
        proving_s = self.params.proving_s * PROVING_GROWTH[memory.count]
        held_s = evidence.clock_s - since_s
        if held_s < proving_s:
            why = PROVING.because(
                moment(evidence, since_s), proving_s=proving_s, until_utc=utc_text(evidence, since_s + proving_s)
            )
            return deny(CODE, why), memory
        if memory.count and held_s >= proving_s + LOSS_WINDOW_S:
            memory = replace(memory, count=0, marks=())
        return self.permit, memory

    def _all_on(self, evidence: Evidence) -> bool:
        readings, clock_s = evidence.readings, evidence.clock_s
        for signal in self.signals:
            reading = readings.get(signal)
            if reading is None or reading.at_s is None or clock_s - reading.at_s > FLOW_AGE_S_MAX or reading.switch() is not True:
                return False
        return True

    def _lost_s(self, evidence: Evidence, memory: Memory) -> float | None:
        if memory.until_s is not None:
            return memory.until_s - NORMAL_STOP_S
        if evidence.flow.proven:
            return None
        known = (*memory.marks[-1:], *(() if evidence.flow.pump_stopped_s is None else (evidence.flow.pump_stopped_s,)))
        return max(known, default=None)

    def _losing(self, evidence: Evidence, memory: Memory) -> Memory:
        if memory.since_s is not None:
            return replace(memory, since_s=None, until_s=evidence.clock_s + NORMAL_STOP_S)
        if memory.until_s is not None and evidence.clock_s >= memory.until_s:
            return self._counted(evidence, memory)
        return memory

    def _regained(self, evidence: Evidence, memory: Memory, since_s: float) -> Memory:
        if memory.until_s is not None:
            memory = self._counted(evidence, memory)
        elif memory.since_s is not None:  # lost and regained between two steps
            memory = self._counted(evidence, replace(memory, until_s=since_s + NORMAL_STOP_S))
        return replace(memory, since_s=since_s)

    def _counted(self, evidence: Evidence, memory: Memory) -> Memory:
        """A loss is judged: a pump that was switched off is none; five others within an hour raise the proving time."""
        assert memory.until_s is not None
        lost_s = memory.until_s - NORMAL_STOP_S
        stopped_s = evidence.flow.pump_stopped_s
        if stopped_s is not None and stopped_s >= lost_s - NORMAL_STOP_S:
            return replace(memory, until_s=None)
        marks = (*(mark for mark in memory.marks if mark >= lost_s - LOSS_WINDOW_S), lost_s)
        if len(marks) < LOSSES_PER_LEVEL:
            return replace(memory, until_s=None, marks=marks)
        return replace(memory, until_s=None, marks=(), count=min(memory.count + 1, len(PROVING_GROWTH) - 1))


def _build(site: Site, params: FlowProvenParams) -> tuple[FlowProven, ...]:
    kinds = [kind for kind in (SignalKind.FLOW, SignalKind.PUMP) if site.first(kind) is not None]
    signals = tuple(signal.id for kind in kinds for signal in site.of_kind(kind))

    def enough(feeder: Feeder) -> bool:
        return len(kinds) == 2 or (len(kinds) == 1 and feeder.kind == "cell" and feeder.cell_cutout)

    able = tuple(feeder.id for feeder in site.feeders if enough(feeder))
    unable = tuple(feeder.id for feeder in site.feeders if not enough(feeder))
    guards = ((able, signals), (unable, ()))
    return tuple(FlowProven(feeders, used, params) for feeders, used in guards if feeders)


KIND = GuardKind(
    CODE, FlowProvenParams, _build, (UNPROVEN, PROVING, ONE_PRINCIPLE),
    stops="all",
    clears="by itself after 60 s of flow; five losses within an hour: 10, 60, 360 min",
    why="chemical fed into standing water is gas or a slug on the next start; a stale message proves no flow",
)  # fmt: skip
