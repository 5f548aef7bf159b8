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
CODE_PROBES = Code("messages.order.probes")
COUNTED = "message."  # retained, repeated, late, stale, future; a payload that can't be read is simply no message
WINDOW_S = 600.0
FALL_BACK = frozenset({SignalKind.ORP, SignalKind.FREE_CHLORINE, SignalKind.PH})
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
    """The signals whose loss has the same effect. Memory: marks = index of the signal and plant clock of each drop of
    the last 10 min,
    one after the other; since_s, until_s = the doubt [plant clock]; count = 1 + index of the signal in doubt.
    """

    feeders: tuple[FeederId, ...]
    signals: tuple[SignalId, ...]
    fall_back: bool  # chlorine goes on at the fall-back rate
    params: MessageOrderParams
    code: Code
    permit: Permit
    needs: tuple[Need, ...] = ()

    def judge(self, evidence: Evidence, memory: Memory) -> tuple[Verdict, Memory]:
        if not evidence.drops and memory.until_s is None:
            return self.permit, memory
        for drop in evidence.drops:
            if drop.signal in self.signals and drop.why.startswith(COUNTED):
                memory = self._counted(evidence, memory, self.signals.index(drop.signal))
        if memory.until_s is None:
            return self.permit, memory
        if evidence.clock_s >= memory.until_s:
            return self.permit, replace(memory, since_s=None, until_s=None, marks=(), count=0)
        signal = self.signals[memory.count - 1]
        if self.fall_back:
            return fallback_limit(self.code, FALLBACK, evidence, memory.since_s, signal), memory
        return deny(self.code, DISORDER.because(moment(evidence, memory.since_s), signal=signal)), memory

    def _counted(self, evidence: Evidence, memory: Memory, index: int) -> Memory:
        clock_s = evidence.clock_s
        pairs = [pair for pair in zip(memory.marks[::2], memory.marks[1::2], strict=True) if pair[1] > clock_s - WINDOW_S]
        own = sum(1 for pair in pairs if pair[0] == index)
        if own < self.params.drops:  # enough are enough: the memory stays bounded
            pairs.append((float(index), clock_s))
        memory = replace(memory, marks=tuple(value for pair in pairs for value in pair))
        if own + 1 >= self.params.drops or memory.until_s is not None:
            since_s = clock_s if memory.since_s is None else memory.since_s
            return replace(memory, since_s=since_s, until_s=clock_s + self.params.clean_s, count=index + 1)
        return memory


def _build(site: Site, params: MessageOrderParams) -> tuple[MessageOrder, ...]:
    stop_all = tuple(signal.id for signal in site.signals if signal.kind in STOP_ALL)
    probes = tuple(signal.id for signal in site.signals if signal.kind in FALL_BACK)
    ph = tuple(signal.id for signal in site.of_kind(SignalKind.PH))
    groups = (
        (tuple(feeder.id for feeder in site.feeders), stop_all, False, CODE),
        (site.feeding(Substance.CHLORINE), probes, True, CODE_PROBES),
        (site.feeding(Substance.ACID), ph, False, CODE_PROBES),
    )
    return tuple(
        MessageOrder(feeders, signals, fall_back, params, code, Permit(code))
        for feeders, signals, fall_back, code in groups
        if feeders and signals
    )


KIND = GuardKind(
    CODE, MessageOrderParams, _build, (DISORDER, FALLBACK),
    stops="as a lost reading of that signal: all for flow, pump and feedback; acid for pH; chlorine falls back for ORP and pH",
    clears="by itself after 10 min without such a message",
    why="a replayed or frozen publisher looks alive",
)  # fmt: skip
