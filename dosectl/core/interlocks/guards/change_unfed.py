"""Change without feed: a reading moves as if something were fed although nothing was. A siphon, or someone dosed by hand."""

from dataclasses import dataclass, replace

from dosectl.core.evidence import Evidence
from dosectl.core.interlocks.answers import deny, latch, moment, standing, utc_text
from dosectl.core.interlocks.guard import GuardKind, Memory, Need
from dosectl.core.interlocks.poured import explained, near
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
EMPTY_PERCENT = 3.0  # what a container reads that is empty, or taken away
# A siphon is seen on its way. Derived: an open tube of 4 mm, 2 m long, under 1 m of head passes 12 mL/s (Blasius' friction).
TUBE_ML_S = 20.0
FORGET_S = 7 * 86400.0
NEUTRAL_PH = 7.5  # taken where no pH is read, for what acid does to the ORP

CHANGED = ReasonKind(
    Code("change.without_feed"),
    "{signal} moved by {change} within half an hour with nothing fed (at {since}); feeding waits until {until_utc}. A "
    "siphon, or dosed by hand? Ask who did, and enter what was dosed. Drums and tubes are looked at by someone trained; who "
    "smells chlorine stays out and calls for help.",
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

    pH and ORP are set against what was entered as put in by hand (`poured`): an entry before the trip prevents it, one after it
    ends the hold, but never a latch. A container that reads empty from one message to the next, faster than a tube can carry, was
    taken away or has lost its meter: `container.level` stops its feeder.

    Memory: recent = (begin of the window [s], value then), then for pH and ORP what entries have explained so far, for a level
    (time [s] and value of the last message); since_s = moved this far since; marks = trips of the last week [plant clock], the
    last of which holds for four hours, over a restart too; count = how far the last one moved, in hundredths.
    """

    feeders: tuple[FeederId, ...]
    signal: SignalId
    kind: SignalKind
    change: float  # signed: from here on it is a trip
    needs_flow: bool
    latches: bool
    quiet: tuple[FeederId, ...]
    code: Code
    permit: Permit
    percent_per_g: float = 0.0  # of the container, per gram fed; 0: a feed can't be told from a fall, so the feeder must be still
    container_ml: float = 0.0
    needs: tuple[Need, ...] = ()

    def judge(self, evidence: Evidence, memory: Memory) -> tuple[Verdict, Memory]:
        value = self._value(evidence)
        if value is None:
            memory = memory if not memory.recent else replace(memory, recent=(), since_s=None)
        elif not memory.recent or evidence.clock_s - memory.recent[0] > WINDOW_S + (0.0 if memory.since_s is None else LASTS_S):
            memory = replace(memory, recent=self._window(evidence, memory, value), since_s=None)
        else:
            memory = self._emptied(evidence, memory, value)
            change = value - memory.recent[1] + self._fed_percent(evidence, memory.recent[0])
            moved = abs(change) - self._left(evidence, memory)
            if moved < abs(self.change) or (change > 0.0) != (self.change > 0.0):
                memory = memory if memory.since_s is None else replace(memory, since_s=None)
            elif memory.since_s is None:
                memory = replace(memory, since_s=evidence.clock_s)
            elif evidence.clock_s - memory.since_s >= LASTS_S and self._idle(evidence):
                return self._tripped(evidence, replace(memory, since_s=None, count=round(100.0 * moved)), round(change, 2))
        if memory.latched is not None:
            return standing(self.code, memory), memory
        if not memory.marks or evidence.clock_s >= memory.marks[-1] + HOLD_S:
            return self.permit, memory
        told = self._told_since(evidence, memory) if evidence.standing.poured else 0.0
        if told > 0.0:
            recent = (*memory.recent[:2], _used(memory) + told) if memory.recent else ()
            return self.permit, replace(memory, recent=recent, marks=memory.marks[:-1], count=0)
        return deny(self.code, self._why(evidence, memory.marks[-1], round(self.change, 2))), memory

    def _window(self, evidence: Evidence, memory: Memory, value: float) -> tuple[float, ...]:
        """A new window. What entries explained in the one before they do not explain again."""
        if self.kind is SignalKind.LEVEL:
            at_s = evidence.readings[self.signal].at_s
            return (evidence.clock_s, value, evidence.clock_s if at_s is None else at_s, value)
        if not evidence.standing.poured or not memory.recent:
            return (evidence.clock_s, value)
        most = self._explained(evidence, memory, memory.recent[0], evidence.clock_s)
        moved = value - memory.recent[1]
        used = _used(memory) + (abs(moved) if (moved > 0.0) == (self.change > 0.0) else 0.0)
        return (evidence.clock_s, value, min(most, used)) if most > 0.0 else (evidence.clock_s, value)

    def _explained(self, evidence: Evidence, memory: Memory, from_s: float, until_s: float) -> float:
        if not evidence.standing.poured or self.kind is SignalKind.LEVEL:
            return 0.0
        ph = memory.recent[1] if self.kind is SignalKind.PH and memory.recent else evidence.number(SignalKind.PH)
        entries = near(evidence, from_s, until_s)
        return explained(evidence, self.kind, entries, self.change, NEUTRAL_PH if ph is None else ph)

    def _left(self, evidence: Evidence, memory: Memory) -> float:
        """What entries may still explain in this window."""
        return max(0.0, self._explained(evidence, memory, memory.recent[0], evidence.clock_s) - _used(memory))

    def _told_since(self, evidence: Evidence, memory: Memory) -> float:
        """How much of the last trip's move is explained by what was entered after it; 0 where that is not enough."""
        at_s = memory.marks[-1]
        late = tuple(entry for entry in near(evidence, at_s - WINDOW_S, at_s) if entry.entered_s >= at_s)
        if not late or self.kind is SignalKind.LEVEL or memory.count <= 0:
            return 0.0
        ph = evidence.number(SignalKind.PH)
        most = explained(evidence, self.kind, late, self.change, NEUTRAL_PH if ph is None else ph)
        moved = memory.count / 100.0
        return min(most, moved) if moved - most < abs(self.change) else 0.0

    def _emptied(self, evidence: Evidence, memory: Memory, value: float) -> Memory:
        """A container that reads empty at one blow: its fall is taken out of the window."""
        reading = evidence.readings[self.signal]
        if self.kind is not SignalKind.LEVEL or reading.at_s is None or reading.at_s <= memory.recent[2]:
            return memory
        began_s, began, last_s, last = memory.recent
        passes_ml = TUBE_ML_S * (reading.at_s - last_s)
        if value <= EMPTY_PERCENT and (last - value) / 100.0 * self.container_ml > passes_ml:
            began -= last - value
        return replace(memory, recent=(began_s, began, reading.at_s, value))

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


def _used(memory: Memory) -> float:
    """What entries have explained in the windows before [unit of the signal]."""
    return memory.recent[2] if len(memory.recent) == 3 else 0.0


def _build(site: Site, params: ChangeUnfedParams) -> tuple[ChangeUnfed, ...]:
    everyone = tuple(feeder.id for feeder in site.feeders)
    chlorine = site.feeding(Substance.CHLORINE)
    guards: list[ChangeUnfed] = []

    def add(
        signal: Signal | None,
        feeders: tuple[FeederId, ...],
        change: float,
        quiet: tuple[FeederId, ...],
        each: float = 0.0,
        ml: float = 0.0,
    ) -> None:
        if signal is not None and feeders:
            code = Code(f"{CODE}.{signal.id}")
            level = signal.kind is SignalKind.LEVEL
            latches = signal.kind is not SignalKind.ORP
            guard = ChangeUnfed(feeders, signal.id, signal.kind, change, not level, latches, quiet, code, Permit(code), each, ml)
            guards.append(guard)

    add(site.first(SignalKind.PH), everyone, -params.fall_ph, everyone)
    add(site.first(SignalKind.ORP), chlorine, params.rise_mv, everyone)
    for feeder in site.feeders:
        level = next((signal for signal in site.signals if signal.id == feeder.level), None)
        each = 100.0 * feeder.ml_per_g / feeder.container_ml if feeder.container_ml > 0.0 else 0.0
        add(level, everyone, -params.fall_percent, (feeder.id,), each, feeder.container_ml)
    return tuple(guards)


def _lacks(site: Site, _params: ChangeUnfedParams) -> bool:
    """A container whose level nobody measures: a siphon shows there best."""
    return any(feeder.kind != "cell" and feeder.level is None for feeder in site.feeders)


KIND = GuardKind(
    CODE, ChangeUnfedParams, _build, (CHANGED, AGAIN),
    stops="all on pH and level; chlorine on ORP",
    clears="by itself after 4 h, on pH and ORP once what was dosed by hand is entered; the second of pH or level within a week "
    "by a person",
    why="a siphon feeds with everything off: software can only notice, stop adding to it and call",
    lacks=_lacks,
)  # fmt: skip
