"""The closed loop over messages, without a network: plant, node contract, decoder and step are those of the demo and the daemon.

`loop.ClosedLoop` hands values to the step; here they go through the nodes' JSON, so that faults of messages, nodes, links and
clocks are faults here too. Time runs in short steps where something happens and in long ones where nothing is fed.
"""

from copy import deepcopy
from dataclasses import replace
from datetime import timedelta
from zoneinfo import ZoneInfo

from dosectl.bus.commands import message_of
from dosectl.bus.items import DropItem, ForeignItem, NodeItem, SampleItem
from dosectl.bus.keeper import Pace
from dosectl.bus.routing import Router
from dosectl.bus.topics import Topics
from dosectl.bus.wiring import wiring_of
from dosectl.core.controller.begin import StartOf, begin, fresh_durable
from dosectl.core.controller.decision import Decision
from dosectl.core.controller.plan import Plan
from dosectl.core.controller.step import step
from dosectl.core.evidence import Standing
from dosectl.model.feeds import FeederId, FeedOff, FeedOn
from dosectl.model.instant import Instant
from dosectl.model.reasons import Code, Facts
from dosectl.model.requests import Place, Request, RequestId
from dosectl.model.signals import Drop, ForeignCommand, Health, NodeReport, Sample
from dosectl.model.snapshot import Snapshot
from dosectl.pool_model.plant import PoolPlant
from dosectl.rehearsal.loop import Moment, plan_of, proven
from dosectl.rehearsal.nodes import Outgoing, PlantNodes
from dosectl.settings.load import Loaded

FEEDING_STEP_S = 10.0
WAKE_S = 1.0  # the daemon's own, and taken while a feeder runs that was asked off
LIFE_S = 15.0  # of a command: a step and a half, and the longest that the node contract allows
EDGE_STEP_S = 0.5  # with which a feed is walked up to the pump's own switching
RECORD_S = 5.0  # what is not urgent waits so long for its commit, and a kill loses it
BASE = "dosectl/demo"


class WiredLoop:
    """Steps plant, nodes and controller together. Faults of the controller's own side are plain switches:

    hears, sends : messages pass in that direction; off_lost : OFFs alone get lost; journal_ok : the record can be written
    muted : no ON reaches the node, for judging what the water does without our feeding
    """

    def __init__(self, loaded: Loaded, plant: PoolPlant, use_mg_l_day: float | None = 2.4, calm_step_s: float = 60.0) -> None:
        plan = plan_of(loaded, FEEDING_STEP_S)
        self.plan: Plan = replace(plan, site=replace(plan.site, expires_s=LIFE_S))
        self.plant = plant
        self.nodes = PlantNodes(plant, BASE)
        self.hears = self.sends = self.journal_ok = True
        self.off_lost = self.muted = False
        self.calm_step_s = calm_step_s
        self.close_until_s = 0.0  # steps are short until then
        self._loaded = loaded
        self._topics = Topics(BASE)
        self._router = self._new_router()
        self._command_topics = {self.nodes.command_topic(name): name for name in plant.feeders}
        self._retained: dict[str, bytes] = {}
        self._waiting: list[Outgoing] = []
        self._number = self._asked = self._starts = 0
        self._echo_s = 0.0
        self._requests: list[Request] = []
        standing: Standing = proven(self.plan.site, use_mg_l_day)
        self.state = begin(self.plan, replace(fresh_durable(self.plan), standing=standing), StartOf(self._now(), 0.0, True))
        self.last: Decision | None = None
        self._kept, self._kept_s = self.state.durable, 0.0  # what the record holds

    def _new_router(self) -> Router:
        return Router(wiring_of(self.plan.site, self._loaded.bindings, demo=True), self._topics)

    def branch(self) -> "WiredLoop":
        """Another world that has lived the same until now."""
        other = object.__new__(WiredLoop)
        other.__dict__.update(self.__dict__)
        other.nodes = deepcopy(self.nodes)
        plant = other.nodes.plant
        assert isinstance(plant, PoolPlant)
        other.plant = plant
        other._router = other._new_router()
        other._retained, other._waiting, other._requests = dict(self._retained), list(self._waiting), list(self._requests)
        return other

    @property
    def elapsed_s(self) -> float:
        """Seconds since the start."""
        return self.nodes.elapsed_s

    def _now(self) -> Instant:
        return Instant(self.nodes.elapsed_s, self.nodes.utc, "wired")

    def ask(self, kind: str, facts: Facts, place: Place = Place.CONSOLE) -> None:
        """A person's request, for the next step."""
        self._asked += 1
        expires = self.nodes.utc + timedelta(minutes=5)
        self._requests.append(Request(RequestId(f"w{self._asked}"), Code(kind), facts, "rehearsal", place, expires))

    def water_test(self, quantity: str, method: str = "drops") -> float:
        """A water test by hand with its method's error, entered at once. Returns what was read."""
        value = self.plant.manual_test(quantity, method)
        self.ask("water_test", (("quantity", quantity), ("value", value), ("method", method), ("as_said", True)))
        return value

    def set_fault(self, name: str, on: bool) -> None:
        """Starts or ends a fault of plant or nodes; what is sent at once wakes the controller at once."""
        self.deliver(self.nodes.set_fault(name, on))

    def restart(self, clean: bool = False, off_s: float = 0.0) -> None:
        """The controller's process ends and, after so long, starts anew from its record. Retained messages come again."""
        if off_s:
            self.nodes.advance(off_s)
        self._waiting.clear()
        self._router = self._new_router()
        self._starts += 1
        self.state = begin(self.plan, self._kept, StartOf(self._now(), off_s, clean))
        self._waiting = [Outgoing(topic, payload, True) for topic, payload in self._retained.items()]

    def freeze(self, for_s: float) -> None:
        """The controller's process stands still (as by SIGSTOP) and then finds everything that arrived meanwhile."""
        left_s = for_s
        while left_s > 1e-6:
            self.nodes.advance(min(3.0, left_s))
            self.deliver(self.nodes.due())
            left_s -= 3.0

    def next_step_s(self) -> float:
        """How long the next step is: short while something is fed or looked at closely."""
        if self.elapsed_s < self.close_until_s:
            return 3.0
        on = self.nodes.node.outputs()
        if self.last is not None and any(isinstance(c, FeedOff) and str(c.feeder) in on for c in self.last.commands):
            return WAKE_S
        if on or (self.last is not None and any(isinstance(c, FeedOn) for c in self.last.commands)):
            return FEEDING_STEP_S
        return self.calm_step_s

    def one(self, dt_s: float | None = None) -> Moment:
        """One step: time passes under the last commands, messages arrive, the controller decides and is heard."""
        dt_s = self.next_step_s() if dt_s is None else dt_s
        self._pass(dt_s)
        self.deliver(self.nodes.due())
        if self.hears and self.sends:
            self._echo_s = self.elapsed_s
        self._number += 1
        requests, self._requests = tuple(self._requests), []
        snapshot = self._snapshot(requests)
        self.state, decision = step(self.plan, self.state, snapshot)
        self.last = decision
        if self.journal_ok and (decision.at_once or self.elapsed_s - self._kept_s >= RECORD_S):
            self._kept, self._kept_s = self.state.durable, self.elapsed_s
        for command in decision.commands:
            if isinstance(command, FeedOff) and command.repeat and not self.off_lost:
                self._send(command)
        for command in decision.commands:
            if isinstance(command, FeedOn) and command.send and self.journal_ok and not self.muted:
                self._send(command)
        return Moment(decision, self.plant.truth(), self.state, snapshot)

    def _pass(self, dt_s: float) -> None:
        """Lets time pass; an edge of the flow that a node publishes at once also wakes us at once."""
        if dt_s > EDGE_STEP_S and self.nodes.node.outputs() and self._pump_switches_within(dt_s):
            flow = self.plant.truth().flow
            left_s = dt_s
            while left_s > 1e-6 and self.plant.truth().flow is flow:
                self.nodes.advance(min(EDGE_STEP_S, left_s))
                left_s -= EDGE_STEP_S
        elif dt_s > 0.0:
            self.nodes.advance(dt_s)

    def _pump_switches_within(self, dt_s: float) -> bool:
        local = self.plant.utc.astimezone(ZoneInfo(self.plant.params.weather.time_zone))
        now_s = local.hour * 3600.0 + local.minute * 60.0 + local.second
        edges = [3600.0 * hour for span in self.plant.params.circulation.hours for hour in span]
        return any(-1.0 <= (edge - now_s) % 86400.0 <= dt_s + 1.0 for edge in edges)

    def _send(self, command: FeedOn | FeedOff) -> None:
        if not self.sends:
            return
        message = message_of(command, self._topics, self.plan.site.ident, None, self.nodes.utc)
        self.deliver(self.nodes.command(str(command.feeder), message.payload, False))

    def deliver(self, messages: list[Outgoing]) -> None:
        """The broker: retained messages are kept, foreign commands reach the node as well, and we hear what comes through."""
        for message in messages:
            if message.retain:
                self._retained.pop(message.topic, None)
                if message.payload:
                    self._retained[message.topic] = message.payload
            if message.topic in self._command_topics:
                self.deliver(self.nodes.command(self._command_topics[message.topic], message.payload, False))
            if self.hears:
                # To a subscriber that is there already the broker hands a retained message as any other.
                self._waiting.append(Outgoing(message.topic, message.payload, False))

    def _snapshot(self, requests: tuple[Request, ...]) -> Snapshot:
        now = self._now()
        samples: list[Sample] = []
        drops: list[Drop] = []
        reports: list[NodeReport] = []
        foreign: list[ForeignCommand] = []
        for message in self._waiting:
            for item in self._router.items(message.topic, message.payload, message.retain, now, has_own=False):
                match item:
                    case SampleItem(sample):
                        samples.append(sample)
                    case DropItem(drop):
                        drops.append(drop)
                    case NodeItem(report):
                        reports.append(report)
                    case ForeignItem(command):
                        foreign.append(command)
                    case _:
                        pass
        self._waiting.clear()
        age_s = self.elapsed_s - self._echo_s
        alive = age_s <= Pace().echo_limit_s
        health = Health(self.journal_ok, 10**10, alive, age_s, True)
        return Snapshot(self._number, now, tuple(samples), health, requests, tuple(drops), tuple(reports), tuple(foreign))

    def running(self) -> tuple[FeederId, ...]:
        """Feeders that the node holds on."""
        return tuple(FeederId(name) for name in self.nodes.node.outputs())
