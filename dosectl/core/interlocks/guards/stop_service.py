"""Service lockout: while someone works on the plant nothing may start, and nothing starts by itself afterwards."""

from dataclasses import dataclass

from dosectl.core.evidence import Evidence
from dosectl.core.interlocks.answers import deny, latch, standing, switch_is
from dosectl.core.interlocks.guard import PERSON, GuardKind, Memory, Need
from dosectl.core.site import Site
from dosectl.model.feeds import FeederId
from dosectl.model.reasons import Code, ReasonKind
from dosectl.model.signals import SignalId, SignalKind
from dosectl.model.verdicts import Denial, Permit, Verdict

CODE = Code("stop.service")
PERMIT = Permit(CODE)

INPUT = ReasonKind(
    Code("stop.input"),
    "The local stop {signal} was set at {since}; all feeding is locked. Reset it at the plant, then clear this by hand.",
)
INPUT_LOST = ReasonKind(
    Code("stop.input_lost"),
    "The local stop {signal} is not heard at {since}, so it counts as set. Check its node; feeding resumes when it is back.",
)


@dataclass(frozen=True, slots=True)
class StopService:
    """The lockout asked for by a person is durable and carries its own reason; a local input latches here."""

    feeders: tuple[FeederId, ...]
    inputs: tuple[SignalId, ...]
    code: Code = CODE
    needs: tuple[Need, ...] = ()
    permit: Permit = PERMIT

    def judge(self, evidence: Evidence, memory: Memory) -> tuple[Verdict, Memory]:
        service = evidence.standing.service
        if service is not None:
            return Denial(CODE, service, True, PERSON), memory
        lost: SignalId | None = None
        for signal in self.inputs:
            state = switch_is(evidence, signal)
            if state is True or self._was_set(evidence, signal):
                return latch(CODE, memory, INPUT.because(evidence.now, signal=signal))
            lost = signal if state is None else lost
        if memory.latched is not None:
            return standing(CODE, memory), memory
        if lost is not None:
            return deny(CODE, INPUT_LOST.because(evidence.now, signal=lost)), memory
        return self.permit, memory

    def _was_set(self, evidence: Evidence, signal: SignalId) -> bool:
        """Pressed and let go between two steps."""
        return any(sample.signal == signal and sample.raw is True for sample in evidence.samples)


def _build(site: Site, _: None) -> tuple[StopService, ...]:
    inputs = tuple(signal.id for signal in site.of_kind(SignalKind.STOP_INPUT))
    return (StopService(tuple(feeder.id for feeder in site.feeders), inputs),)


KIND = GuardKind(
    CODE, None, _build, (INPUT, INPUT_LOST),
    stops="all",
    clears="by a person at the plant; never by itself",
    why="a feeder that starts under someone's hands injures",
)  # fmt: skip
