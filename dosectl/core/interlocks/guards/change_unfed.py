"""Change without feed: a reading moves as if something were fed although nothing was. A siphon, or someone dosed by hand."""

from dataclasses import dataclass, replace

from dosectl.core.evidence import Evidence
from dosectl.core.interlocks.answers import deny, latch, moment, standing, utc_text
from dosectl.core.interlocks.guard import GuardKind, Memory, Need
from dosectl.core.site import Signal, Site
from dosectl.model.feeds import FeederId, Substance
from dosectl.model.ranges import setting
from dosectl.model.reasons import Code, Reason, ReasonKind
from dosectl.model.signals import SignalId, SignalKind, Status
from dosectl.model.verdicts import Permit, Verdict

CODE = Code("change.unfed")
WINDOW_S = 1800.0
QUIET_S = 3600.0
HOLD_S = 4 * 3600.0
LASTS_S = 120.0  # longer than a spike of the reading
MORE_THAN_RATED = 1.5  # a pump may give so much more than its typed rate before its fall counts as nobody's
LEVEL_LATE_S = 120.0  # a level is sent each minute, so a fall may show that long after the feed
LATCH_AT = 2
FORGET_S = 7 * 86400.0

CHANGED = ReasonKind(
    Code("change.without_feed"),
    "{signal} moved by {change} within half an hour with nothing fed (at {since}); feeding waits until {until_utc}. A "
    "siphon, or dosed by hand? Ask who did. Drums and tubes are looked at by someone trained; who smells chlorine stays out "
    "and calls for help.",
)
AGAIN = ReasonKind(
    Code("change.again"),
    "{signal} moved by {change} once more with nothing fed (at {since}); all feeding is locked. Have the power cut "
    "from outside; who smells chlorine stays out and calls for help. A siphon is looked for by someone trained.",
)


@dataclass(frozen=True, slots=True)
class ChangeUnfedParams:
    fall_ph: float = setting(
        0.3, ge=0.15, le=1.0, unit="pH", why="derived: 4 mg/L of acid in half an hour, a pump's whole output"
    )
    rise_mv: float = setting(
        60.0, ge=30.0, le=200.0, unit="mV", why="engineering judgement: no ordinary change of water does this"
    )
    fall_percent: float = setting(
        2.0, ge=1.0, le=20.0, unit="% of the container", why="engineering judgement: twice a level meter's step"
    )


@dataclass(frozen=True, slots=True)
class ChangeUnfed:
    """A falling level is set against what the ledger says was fed, so a siphon shows beside a feed too; pH and ORP can't be.

    Memory: recent = (begin of the window [s], value then); since_s = moved this far since; marks = trips of the
    last week [plant clock], the last of which holds for four hours, over a restart too.
    """

    feeders: tuple[FeederId, ...]
    signal: SignalId
    change: float  # signed: from here on it is a trip
    needs_flow: bool
    latches: bool
    quiet: tuple[FeederId, ...]
    code: Code
    permit: Permit
    percent_per_g: float = 0.0  # of the container, per gram fed; 0: a feed can't be told from a fall, so the feeder must be still
    needs: tuple[Need, ...] = ()

    def judge(self, evidence: Evidence, memory: Memory) -> tuple[Verdict, Memory]:
        value = self._value(evidence)
        if value is None:
            memory = memory if not memory.recent else replace(memory, recent=(), since_s=None)
        elif not memory.recent or evidence.clock_s - memory.recent[0] > WINDOW_S + (0.0 if memory.since_s is None else LASTS_S):
            memory = replace(memory, recent=(evidence.clock_s, value), since_s=None)
        else:
            change = value - memory.recent[1] + self._fed_percent(evidence, memory.recent[0])
            if abs(change) < abs(self.change) or (change > 0.0) != (self.change > 0.0):
                memory = memory if memory.since_s is None else replace(memory, since_s=None)
            elif memory.since_s is None:
                memory = replace(memory, since_s=evidence.clock_s)
            elif evidence.clock_s - memory.since_s >= LASTS_S and self._idle(evidence):
                return self._tripped(evidence, replace(memory, since_s=None), round(change, 2))
        if memory.latched is not None:
            return standing(self.code, memory), memory
        if not memory.marks or evidence.clock_s >= memory.marks[-1] + HOLD_S:
            return self.permit, memory
        return deny(self.code, self._why(evidence, memory.marks[-1], round(self.change, 2))), memory

    def _why(self, evidence: Evidence, at_s: float, change: float) -> Reason:
        until_utc = utc_text(evidence, at_s + HOLD_S)
        return CHANGED.because(moment(evidence, at_s), signal=self.signal, change=change, until_utc=until_utc)

    def _tripped(self, evidence: Evidence, memory: Memory, change: float) -> tuple[Verdict, Memory]:
        earlier = tuple(mark for mark in memory.marks if mark > evidence.clock_s - FORGET_S)
        if self.latches and len(earlier) + 1 >= LATCH_AT:
            why = AGAIN.because(evidence.now, signal=self.signal, change=change)
            return latch(self.code, replace(memory, recent=(), marks=()), why)
        memory = replace(memory, recent=(), marks=(*earlier, evidence.clock_s))
        if memory.latched is not None:
            return standing(self.code, memory), memory
        return deny(self.code, self._why(evidence, evidence.clock_s, change)), memory

    def _value(self, evidence: Evidence) -> float | None:
        reading = evidence.readings.get(self.signal)
        value = None if reading is None else reading.number(Status.OUT_OF_SPEC)
        if self.needs_flow:
            since_s = evidence.flow.since_s
            if since_s is None or evidence.clock_s - since_s < QUIET_S:
                return None
        return value

    def _fed_percent(self, evidence: Evidence, from_s: float) -> float:
        """The most by which the feeder itself may have lowered its container since then [% of it]."""
        if self.percent_per_g <= 0.0:
            return 0.0
        window_s = evidence.clock_s - from_s + LEVEL_LATE_S
        grams = sum(evidence.ledger.of(feeder).window_g(evidence.clock_s, window_s) for feeder in self.quiet)
        return MORE_THAN_RATED * grams * self.percent_per_g

    def _idle(self, evidence: Evidence) -> bool:
        """What was fed is reckoned with; or nothing was fed for an hour, so what moved in the window moved by itself."""
        if self.percent_per_g > 0.0:
            return True
        for feeder in self.quiet:
            ran_s = evidence.feeders[feeder].ran_s
            fed_s = evidence.ledger.of(feeder).last_fed_s() if ran_s is None else ran_s
            if fed_s is not None and evidence.clock_s - fed_s < QUIET_S:
                return False
        return True


def _build(site: Site, params: ChangeUnfedParams) -> tuple[ChangeUnfed, ...]:
    everyone = tuple(feeder.id for feeder in site.feeders)
    chlorine = site.feeding(Substance.CHLORINE)
    guards: list[ChangeUnfed] = []

    def add(
        signal: Signal | None, feeders: tuple[FeederId, ...], change: float, quiet: tuple[FeederId, ...], each: float = 0.0
    ) -> None:
        if signal is not None and feeders:
            code = Code(f"{CODE}.{signal.id}")
            level = signal.kind is SignalKind.LEVEL
            latches = signal.kind is not SignalKind.ORP
            guards.append(ChangeUnfed(feeders, signal.id, change, not level, latches, quiet, code, Permit(code), each))

    add(site.first(SignalKind.PH), everyone, -params.fall_ph, everyone)
    add(site.first(SignalKind.ORP), chlorine, params.rise_mv, everyone)
    for feeder in site.feeders:
        level = next((signal for signal in site.signals if signal.id == feeder.level), None)
        each = 100.0 * feeder.ml_per_g / feeder.container_ml if feeder.container_ml > 0.0 else 0.0
        add(level, everyone, -params.fall_percent, (feeder.id,), each)
    return tuple(guards)


KIND = GuardKind(
    CODE, ChangeUnfedParams, _build, (CHANGED, AGAIN),
    stops="all on pH and level; chlorine on ORP",
    clears="by itself after 4 h; the second of pH or level within a week by a person",
    why="a siphon feeds with everything off: software can only notice, stop adding to it and call",
)  # fmt: skip
