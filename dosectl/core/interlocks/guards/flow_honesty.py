"""Flow switch honesty: each pump stop is a free proof test of the flow switch."""

from dataclasses import dataclass, replace

from dosectl.core.evidence import Evidence
from dosectl.core.interlocks.answers import latch, moment, standing, switch_is
from dosectl.core.interlocks.guard import SHOW_NO_FLOW, GuardKind, Memory, Need
from dosectl.core.site import Site
from dosectl.model.feeds import FeederId
from dosectl.model.ranges import setting
from dosectl.model.reasons import Code, ReasonKind
from dosectl.model.signals import SignalId, SignalKind
from dosectl.model.verdicts import Permit, Verdict
from dosectl.model.water_tests import WaterTest

CODE = Code("flow.honesty")

DISHONEST = ReasonKind(
    Code("flow.dishonest"),
    "{signal} says flow although the pump is off since {since}. Nothing is fed until the flow switch is repaired, has "
    "shown no flow "
    "with the pump off, and a person clears this.",
)


@dataclass(frozen=True, slots=True)
class FlowHonestyParams:
    rundown_s: float = setting(
        60.0,
        ge=10.0,
        le=600.0,
        unit="s",
        why="engineering judgement: the water column of a home pool comes to rest within a minute",
    )


@dataclass(frozen=True, slots=True)
class FlowHonesty:
    """Memory: since_s = since when the pump is off while this switch says flow; count = 1 once a latched switch has shown no
    flow with the pump off, until it lies again."""

    feeders: tuple[FeederId, ...]
    flow: SignalId
    pump: SignalId
    params: FlowHonestyParams
    code: Code
    permit: Permit
    needs: tuple[Need, ...] = ()

    def judge(self, evidence: Evidence, memory: Memory) -> tuple[Verdict, Memory]:
        pump = switch_is(evidence, self.pump)
        if pump is True:  # says nothing about the switch: a latch stands, a doubt ends
            if memory.since_s is not None and memory.latched is None:
                memory = replace(memory, since_s=None)
        elif pump is False:
            flow = switch_is(evidence, self.flow)
            if flow is False and memory.latched is not None and memory.count == 0:
                memory = replace(memory, count=1)
            if flow is False and memory.since_s is not None:
                memory = replace(memory, since_s=None)
            elif flow is True and memory.since_s is None:
                memory = replace(memory, since_s=evidence.clock_s)
            if flow is True and memory.since_s is not None and evidence.clock_s - memory.since_s >= self.params.rundown_s:
                memory = replace(memory, count=0) if memory.count else memory
                return latch(self.code, memory, DISHONEST.because(moment(evidence, memory.since_s), signal=self.flow))
        if memory.latched is not None:
            return standing(self.code, memory), memory
        return self.permit, memory

    def still_to_show(self, memory: Memory, _tests: tuple[WaterTest, ...], /) -> Code | None:
        return None if memory.count else SHOW_NO_FLOW


def _build(site: Site, params: FlowHonestyParams) -> tuple[FlowHonesty, ...]:
    pump = site.first(SignalKind.PUMP)
    switches = site.of_kind(SignalKind.FLOW)
    if pump is None or not switches:
        return ()
    feeders = tuple(feeder.id for feeder in site.feeders)
    codes = [Code(CODE if len(switches) == 1 else f"{CODE}.{switch.id}") for switch in switches]
    return tuple(
        FlowHonesty(feeders, switch.id, pump.id, params, code, Permit(code)) for switch, code in zip(switches, codes, strict=True)
    )


KIND = GuardKind(
    CODE, FlowHonestyParams, _build, (DISHONEST,),
    stops="all",
    clears="by a person, after the switch has shown no flow with the pump off",
    why="a switch that sticks at flow would let chemical into standing water; the pump's stop shows it for nothing",
)  # fmt: skip
