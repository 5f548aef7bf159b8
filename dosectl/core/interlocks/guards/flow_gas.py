"""Gas hold: chemical was fed into standing water, so people must be out before the pump starts again.

Figures: 2 s of a 50 mL/min pump is some 2 mL of hypochlorite, which with acid makes about 7 m3 of air bad; a 20 g/h cell
makes about
0.1 L of gas a minute (arithmetic from 42 mL of chlorine gas per mL of 12.5 % hypochlorite and 0.34 L of hydrogen per g
of chlorine).
"""

import math
from dataclasses import dataclass, replace

from dosectl.core.evidence import Evidence, FeederFacts
from dosectl.core.interlocks.answers import deny, latch, moment, standing
from dosectl.core.interlocks.guard import GuardKind, Memory, Need
from dosectl.core.site import Feeder, Site
from dosectl.model.feeds import FeederId
from dosectl.model.ranges import setting
from dosectl.model.reasons import Code, ReasonKind
from dosectl.model.signals import SignalId
from dosectl.model.verdicts import Permit, Verdict

CODE = Code("flow.gas")
PUMP_S_MAX = 5.0
CELL_S_MAX = 120.0
LOST_TOGETHER_S = 60.0  # load and flow unheard: the flow must be heard to be lost so soon, else a link that fails in a feed and
# comes back to a pump that its clock has stopped would send everyone out of the water; own judgement
UNKNOWN_S = 15.0  # flow not heard: after a start a feed of the run before may end by its own time-out first

GAS = ReasonKind(
    Code("flow.gas_hold"),
    "{feeder} ran for {ran_s:.0f} s without water flow at {since}: chemical or gas may stand in the pipe, and all feeding "
    "is locked. Keep "
    "everyone out of the water and away from the plant room; "
    "who smells chlorine stays out and calls for help. The pump is switched off only from outside, and started again by "
    "someone trained, by the restart card.",
)
RUNNING = ReasonKind(
    Code("flow.running_dry"),
    "{feeder} still shows running although the water stopped at {since}; all feeding is stopped until it is off.",
)
UNPROVEN = ReasonKind(
    Code("flow.running_unproven"),
    "{feeder} shows running although nobody knows since {since} whether water flows; all feeding is stopped until it is off.",
)
UNHEARD = ReasonKind(
    Code("flow.gas_unheard"),
    "{feeder} may have run for {ran_s:.0f} s without water flow at {since}: its load fell silent as the water stopped, and "
    "nothing showed that it ended. All feeding is stopped until water flows. Keep everyone out of the water and away from the "
    "plant room; who smells chlorine stays out and calls for help. The pump is switched off only from outside, and started "
    "again by someone trained, by the restart card.",
)


@dataclass(frozen=True, slots=True)
class FlowGasParams:
    pump_s: float = setting(
        2.0, ge=0.5, le=PUMP_S_MAX, unit="s", why="derived: about 2 mL of a 50 mL/min pump, some 7 m3 of bad air"
    )
    cell_s: float = setting(
        60.0, ge=5.0, le=CELL_S_MAX, unit="s", why="derived: about 0.1 L of gas in the cell body of a 20 g/h cell"
    )


@dataclass(frozen=True, slots=True)
class FlowGas:
    """One per feeder with feedback; binds all. Memory: since_s = since when it runs without proven flow.

    Flow that is not known may be none; then 15 s more are given, as a start knows of no flow for some seconds.

    Time counts up to the feedback's last message, so that a late "off" message is not taken for a running feeder. A load that
    was not heard to end may have run until its command's own end: denied and called where the flow is heard
    to be lost, not latched, as a power cut in a feed looks alike. Memory of that: recent = when flow was lost, the last ON's
    number and, once it was heard, when that was; until_s = until when it may have run.
    """

    feeders: tuple[FeederId, ...]
    feeder: FeederId
    feedback: SignalId
    limit_s: float
    code: Code
    permit: Permit
    needs: tuple[Need, ...] = ()

    def judge(self, evidence: Evidence, memory: Memory) -> tuple[Verdict, Memory]:
        if evidence.flow.proven and memory.since_s is None and memory.latched is None and not memory.recent:
            return self.permit, memory
        running = evidence.feeders[self.feeder].running
        if not evidence.flow.proven:
            memory = self._unheard(evidence, memory)
        elif memory.recent:
            memory = replace(memory, until_s=None, recent=())
        if evidence.flow.proven or running is False:
            if memory.since_s is not None:
                memory = replace(memory, since_s=None)
        elif running is True:
            if memory.since_s is None:
                memory = replace(memory, since_s=evidence.clock_s)
            seen_s = evidence.readings[self.feedback].at_s
            since_s = memory.since_s
            assert since_s is not None
            ran_s = 0.0 if seen_s is None else seen_s - since_s
            began = moment(evidence, since_s)
            if ran_s > self.limit_s + (0.0 if evidence.flow.broken else UNKNOWN_S):
                return latch(self.code, memory, GAS.because(began, feeder=self.feeder, ran_s=round(ran_s, 1)))
            if memory.latched is None:
                kind = RUNNING if evidence.flow.broken else UNPROVEN
                return deny(self.code, kind.because(began, feeder=self.feeder)), memory
        if memory.latched is not None:
            return standing(self.code, memory), memory
        if memory.until_s is not None:
            ran_s, began = memory.until_s - memory.recent[0], moment(evidence, memory.recent[0])
            return deny(self.code, UNHEARD.because(began, feeder=self.feeder, ran_s=round(ran_s, 1))), memory
        return self.permit, memory

    def _unheard(self, evidence: Evidence, memory: Memory) -> Memory:
        """With the time for which it may have run unheard, once its last command is over; without, where it was heard to end,
        where its node has obeyed the OFF in time, where nobody heard in time that the flow was lost, and where its node fell
        silent with it and has started anew: that is a power cut."""
        if memory.until_s is not None:
            return memory
        facts, reading = evidence.feeders[self.feeder], evidence.readings[self.feedback]
        ends_s = facts.life_ends_s
        if not memory.recent:
            if ends_s is None or ends_s - evidence.clock_s <= self.limit_s or reading.raw is False:
                return memory
            last_on = facts.command_no if facts.asked_on else facts.command_no - 1
            memory = replace(memory, recent=(evidence.clock_s, float(last_on)))
        lost_s, told = memory.recent[:2]
        unheard = len(memory.recent) == 2
        late = unheard and evidence.clock_s - lost_s > LOST_TOGETHER_S
        if unheard and evidence.flow.broken:
            memory, unheard = replace(memory, recent=(lost_s, told, evidence.clock_s)), False
        heard_s = lost_s if reading.at_s is None else reading.at_s
        if late or ends_s is None or reading.raw is False or _obeyed(facts, told, ends_s, evidence.clock_s):
            return replace(memory, recent=())
        if _booted_s(facts, evidence.clock_s) > min(lost_s, heard_s):  # a power cut
            return replace(memory, recent=())
        over = not facts.asked_on and evidence.clock_s >= ends_s and facts.running is None
        if not over or unheard or _node_silent(facts, lost_s, evidence.clock_s):
            return memory
        return replace(memory, until_s=max(ends_s, heard_s))


def _obeyed(facts: FeederFacts, told: float, ends_s: float, now_s: float) -> bool:
    """Whether its node has said, while the last ON still lived, that it has obeyed a command after that."""
    age_s, obeyed = facts.node_age_s, facts.node_no
    return age_s is not None and obeyed is not None and obeyed > told and now_s - age_s < ends_s


def _node_silent(facts: FeederFacts, lost_s: float, now_s: float) -> bool:
    """Whether the feeder has a node, and nothing was heard of it since the flow was lost."""
    return facts.node is not None and facts.node_age_s is not None and now_s - facts.node_age_s <= lost_s


def _booted_s(facts: FeederFacts, now_s: float) -> float:
    """When its node started, by the node's own counter; all its outputs were off then. Without a node: never."""
    if facts.node is None or facts.node_age_s is None:
        return -math.inf
    return now_s - facts.node_age_s - facts.node.ms / 1000.0


def _build(site: Site, params: FlowGasParams) -> tuple[FlowGas, ...]:
    everyone = tuple(feeder.id for feeder in site.feeders)

    def one(feeder: Feeder, feedback: SignalId) -> FlowGas:
        code = Code(f"{CODE}.{feeder.id}")
        limit_s = params.cell_s if feeder.kind == "cell" else params.pump_s
        return FlowGas(everyone, feeder.id, feedback, limit_s, code, Permit(code))

    return tuple(one(feeder, feeder.feedback) for feeder in site.feeders if feeder.feedback is not None)


KIND = GuardKind(
    CODE, FlowGasParams, _build, (GAS, RUNNING, UNPROVEN, UNHEARD),
    stops="all",
    clears="by a person at the plant; shorter runs by themselves, what nobody heard with the next proven flow",
    why="the restart of a pump pushed the gas of a run without flow onto bathers in the past",
)  # fmt: skip
