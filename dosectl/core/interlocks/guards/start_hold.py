"""Start-up hold: after a start the world is not known yet, and a daemon that starts again and again is not to be trusted."""

from dataclasses import dataclass, replace

from dosectl.core.evidence import Evidence, StartFacts
from dosectl.core.interlocks.answers import deny, moment, utc_text
from dosectl.core.interlocks.guard import GuardKind, Memory, Need
from dosectl.core.site import Site
from dosectl.model.feeds import FeederId
from dosectl.model.ranges import setting
from dosectl.model.reasons import Code, ReasonKind
from dosectl.model.signals import SignalId, SignalKind, Status
from dosectl.model.verdicts import Permit, Verdict

CODE = Code("start.hold")
PERMIT = Permit(CODE)
HOUR_S = 3600.0
MANY_STARTS = 3
LOOPING_STARTS = 6
MANY_HOLD_S = 3600.0
LOOPING_HOLD_S = 6 * 3600.0

HOLDING = ReasonKind(
    Code("start.holding"),
    "The controller started at {since} ({starts} starts within an hour); feeding resumes at {until_utc} if all is well.",
)
COLLECTING = ReasonKind(
    Code("start.collecting"),
    "Since the start at {since} only {samples} of {needed} messages of {signal} have come in; feeding waits for them.",
)


@dataclass(frozen=True, slots=True)
class StartHoldParams:
    hold_s: float = setting(
        300.0, ge=120.0, le=3600.0, unit="s", why="engineering judgement: every probe has spoken some thirty times"
    )
    unclean_s: float = setting(
        900.0, ge=300.0, le=7200.0, unit="s", why="engineering judgement: after a crash the cause may still be there"
    )
    samples: int = setting(
        10, ge=3, le=100, unit="messages", why="engineering judgement: a single message after a start may be an old one"
    )


@dataclass(frozen=True, slots=True)
class StartHold:
    """Memory: since_s = when the hold of this run was over. Probes that stay lost are left to the guards of the probes."""

    feeders: tuple[FeederId, ...]
    always: tuple[SignalId, ...]  # flow and pump
    unless_lost: tuple[SignalId, ...]  # ORP and pH
    params: StartHoldParams
    code: Code = CODE
    needs: tuple[Need, ...] = ()
    permit: Permit = PERMIT

    def judge(self, evidence: Evidence, memory: Memory) -> tuple[Verdict, Memory]:
        start = evidence.start
        if memory.since_s is not None and memory.since_s >= start.started_s:
            return self.permit, memory
        began = moment(evidence, start.started_s)
        starts = sum(1 for at_s in start.starts_s if start.started_s - HOUR_S < at_s <= start.started_s)
        until_s = start.started_s + self._hold_s(start, starts)
        if evidence.clock_s < until_s:
            return deny(CODE, HOLDING.because(began, starts=starts, until_utc=utc_text(evidence, until_s))), memory
        waiting = self._waiting(evidence)
        if waiting is not None:
            fresh = start.fresh.get(waiting, 0)
            return deny(CODE, COLLECTING.because(began, signal=waiting, samples=fresh, needed=self.params.samples)), memory
        return self.permit, replace(memory, since_s=evidence.clock_s)

    def _hold_s(self, start: StartFacts, starts: int) -> float:
        hold_s = self.params.hold_s if start.clean else max(self.params.hold_s, self.params.unclean_s)
        if starts >= LOOPING_STARTS:
            return max(hold_s, LOOPING_HOLD_S)
        return max(hold_s, MANY_HOLD_S) if starts >= MANY_STARTS else hold_s

    def _waiting(self, evidence: Evidence) -> SignalId | None:
        fresh = evidence.start.fresh
        for signal in self.always:
            if fresh.get(signal, 0) < self.params.samples:
                return signal
        for signal in self.unless_lost:
            reading = evidence.readings.get(signal)
            lost = reading is None or reading.status > Status.OUT_OF_SPEC
            if not lost and fresh.get(signal, 0) < self.params.samples:
                return signal
        return None


def _build(site: Site, params: StartHoldParams) -> tuple[StartHold, ...]:
    always = tuple(signal.id for kind in (SignalKind.FLOW, SignalKind.PUMP) for signal in site.of_kind(kind))
    probes = tuple(signal.id for kind in (SignalKind.ORP, SignalKind.PH) if (signal := site.first(kind)) is not None)
    return (StartHold(tuple(feeder.id for feeder in site.feeders), always, probes, params),)


KIND = GuardKind(
    CODE, StartHoldParams, _build, (HOLDING, COLLECTING),
    stops="all",
    clears="by itself: 5 min, 15 after an unclean end, 60 at the third start in an hour, 6 h at the sixth",
    why="a crash loop or a flickering supply must not turn into a feed at each start",
)  # fmt: skip
