"""Message order: a signal whose messages repeat, come late or from the future is as good as lost."""

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

CODE = Code("messages.order")
COUNTED = "message."  # retained, repeated, late, stale, future; a payload that can't be read is simply no message
WINDOW_S = 600.0
STOP_ALL = frozenset({SignalKind.FLOW, SignalKind.PUMP, SignalKind.FEEDBACK, SignalKind.STOP_INPUT, SignalKind.WATER_PATH})

DISORDER = ReasonKind(
    Code("messages.disorder"),
    "Old, repeated or wrongly dated messages keep coming on {signal} since {since}; it counts as lost and feeding waits. "
    "Look for a second "
    "publisher, a bridge, or a wrong clock at the source.",
)
FALLBACK = ReasonKind(
    Code("messages.fallback"),
    "Old, repeated or wrongly dated messages keep coming on {signal} since {since}; chlorine runs at {rate_mg_l_day} mg/L "
    "a day until they "
    "end. Look for a second publisher, a bridge, or a wrong clock at the source.",
)


@dataclass(frozen=True, slots=True)
class MessageOrderParams:
    drops: int = setting(10, ge=3, le=100, unit="messages", why="engineering judgement: a reconnect repeats one or two")
    clean_s: float = setting(
        600.0, ge=120.0, le=7200.0, unit="s", why="engineering judgement: as long as the window they are counted in"
    )


@dataclass(frozen=True, slots=True)
class MessageOrder:
    """One signal, and whom it concerns. Memory: marks = drops in the last 10 min; since_s, until_s = the doubt [plant clock]."""

    feeders: tuple[FeederId, ...]
    signal: SignalId
    fall_back: bool  # chlorine goes on at the fall-back rate
    params: MessageOrderParams
    code: Code
    permit: Permit
    needs: tuple[Need, ...] = ()

    def judge(self, evidence: Evidence, memory: Memory) -> tuple[Verdict, Memory]:
        if not evidence.drops and memory.until_s is None:
            return self.permit, memory
        clock_s = evidence.clock_s
        new = sum(1 for drop in evidence.drops if drop.signal == self.signal and drop.why.startswith(COUNTED))
        if new:
            kept = tuple(mark for mark in memory.marks if mark > clock_s - WINDOW_S)
            memory = replace(memory, marks=(*kept, *(clock_s,) * new)[-self.params.drops :])
            if len(memory.marks) >= self.params.drops or memory.until_s is not None:
                since_s = clock_s if memory.since_s is None else memory.since_s
                memory = replace(memory, since_s=since_s, until_s=clock_s + self.params.clean_s)
        if memory.until_s is None:
            return self.permit, memory
        if clock_s >= memory.until_s:
            return self.permit, replace(memory, since_s=None, until_s=None, marks=())
        if self.fall_back:
            return fallback_limit(self.code, FALLBACK, evidence, self.feeders, memory.since_s, self.signal), memory
        return deny(self.code, DISORDER.because(moment(evidence, memory.since_s), signal=self.signal)), memory


def _build(site: Site, params: MessageOrderParams) -> tuple[MessageOrder, ...]:
    everyone = tuple(feeder.id for feeder in site.feeders)
    chlorine = site.feeding(Substance.CHLORINE)
    acid = site.feeding(Substance.ACID)
    guards: list[MessageOrder] = []

    def add(signal: SignalId, feeders: tuple[FeederId, ...], fall_back: bool) -> None:
        if feeders:
            code = Code(f"{CODE}.{signal}")
            guards.append(MessageOrder(feeders, signal, fall_back, params, code, Permit(code)))

    for signal in site.signals:
        if signal.kind in STOP_ALL:
            add(signal.id, everyone, False)
        elif signal.kind in {SignalKind.ORP, SignalKind.FREE_CHLORINE, SignalKind.PH}:
            add(signal.id, chlorine, True)
            if signal.kind is SignalKind.PH:
                add(signal.id, acid, False)
    return tuple(guards)


KIND = GuardKind(
    CODE, MessageOrderParams, _build, (DISORDER, FALLBACK),
    stops="as a lost reading of that signal: all for flow, pump and feedback; acid for pH; chlorine falls back for ORP and pH",
    clears="by itself after 10 min without such a message",
    why="a replayed or frozen publisher looks alive",
)  # fmt: skip
