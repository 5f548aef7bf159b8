"""The one core thread: collects what arrived, runs the step, carries out its effects. Wakes on a message or its deadline."""

import logging
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from enum import StrEnum

from dosectl.bus.items import (
    DropItem,
    EchoItem,
    ForeignItem,
    LinkItem,
    NodeItem,
    RefusedItem,
    RequestItem,
    SampleItem,
    TickItem,
)
from dosectl.core.controller.decision import Decision
from dosectl.core.controller.plan import Plan
from dosectl.core.controller.state import State
from dosectl.core.controller.step import step
from dosectl.daemon.clock import Clock, TickClock
from dosectl.daemon.dry_feedback import DryFeedback
from dosectl.daemon.effects import Effects
from dosectl.daemon.inbox import Inbox, Queued, Signalled
from dosectl.model.instant import Instant
from dosectl.model.reasons import Code
from dosectl.model.requests import Request
from dosectl.model.signals import STOPPING, Drop, ForeignCommand, Health, NodeReport, Sample
from dosectl.model.snapshot import Snapshot

LATE_S = 5.0
JUMP_S = 2.0

log = logging.getLogger("dosectl.core")


class End(StrEnum):
    """Why the loop ended."""

    STOP = "stop"
    RELOAD = "reload"


@dataclass(slots=True)
class _Arrived:
    """What came since the last step, in order."""

    samples: list[Sample] = field(default_factory=list)
    drops: list[Drop] = field(default_factory=list)
    nodes: list[NodeReport] = field(default_factory=list)
    foreign: list[ForeignCommand] = field(default_factory=list)
    requests: list[Request] = field(default_factory=list)
    tick: int | None = None


class Ports:
    """What the loop needs of its surroundings, as callables, so that tests run it with none of them.

    health : evidence from the adapters at this moment; refused : a malformed request's reply; done : a tick's step is done
    alive : a whole step is done; told whether its record holds
    calendar : a word of the calendar is due; jumped : the wall clock was set, so the calendar must count anew
    dry : in a dry run, what the feeders' feedback would say; None elsewhere
    """

    def __init__(
        self,
        health: Callable[[int, float, tuple[Code, ...]], Health],
        refused: Callable[[RefusedItem], None],
        done: Callable[[int], None],
        alive: Callable[[bool], None],
        calendar: Callable[[str, State], None],
        jumped: Callable[[], None],
        dry: DryFeedback | None = None,
    ) -> None:
        self.health = health
        self.refused = refused
        self.done = done
        self.alive = alive
        self.calendar = calendar
        self.jumped = jumped
        self.dry = dry


class CoreLoop:
    """Runs until stopped. `state` is the state after the last step."""

    def __init__(self, plan: Plan, state: State, clock: Clock, inbox: Inbox, effects: Effects, ports: Ports) -> None:
        self._plan = plan
        self.state = state
        self._clock = clock
        self._inbox = inbox
        self._effects = effects
        self._ports = ports
        self._step_no = 0
        self._arrived = _Arrived()
        self._ending: End | None = None
        self._ending_since_s = 0.0
        self._link_text = ""
        self.last: Decision | None = None

    @property
    def step_no(self) -> int:
        """Number of the last step of this run."""
        return self._step_no

    def run(self) -> End:
        """The loop. When asked to end it goes on stepping with all feeders barred until they are off by their feedback."""
        deadline = time.monotonic()
        while True:
            wait_s = deadline - time.monotonic()
            items = self._inbox.take(wait_s)
            for item in items:
                self._take(item)
                if self._arrived.tick is not None:
                    self._step()
            if not isinstance(self._clock, TickClock):
                self._step()
            if self._ending is not None and self._drained():
                return self._ending
            deadline = time.monotonic() + (self.last.wake_in_s if self.last is not None else 1.0)

    def _take(self, item: Queued) -> None:  # noqa: C901 - one flat match, a line an item
        arrived = self._arrived
        match item:
            case SampleItem(sample):
                arrived.samples.append(sample)
            case DropItem(drop):
                arrived.drops.append(drop)
            case NodeItem(report):
                arrived.nodes.append(report)
            case ForeignItem(command):
                arrived.foreign.append(command)
            case RequestItem(request):
                arrived.requests.append(request)
            case RefusedItem():
                self._ports.refused(item)
            case TickItem(number, mono_s, utc):
                if isinstance(self._clock, TickClock):
                    self._clock.advance(mono_s, utc)
                    arrived.tick = number
            case LinkItem(up, text):
                log.log(logging.INFO if up else logging.WARNING, "broker: %s", text)
            case EchoItem(alive):
                log.log(
                    logging.INFO if alive else logging.WARNING, "bus is %s by its own echo", "alive" if alive else "not alive"
                )
            case Signalled("stop" | "reload" as what):
                self._ending = self._ending or End(what)
                self._ending_since_s = time.monotonic()
            case Signalled(what):
                self._ports.calendar(what, self.state)

    def _step(self) -> None:
        """One step and its effects, with all that arrived."""
        arrived, self._arrived = self._arrived, _Arrived()
        self._step_no += 1
        faults = (STOPPING,) if self._ending is not None else ()
        now = self._clock.now()
        snapshot = Snapshot(
            step_no=self._step_no,
            now=now,
            samples=self._samples(tuple(arrived.samples), now),
            health=self._ports.health(self._inbox.take_dropped(), self._inbox.oldest_age_s, faults),
            requests=tuple(arrived.requests),
            drops=tuple(arrived.drops),
            nodes=tuple(arrived.nodes),
            foreign=tuple(arrived.foreign),
        )
        self.state, self.last = step(self._plan, self.state, snapshot)
        self._effects.carry_out(self.state, self.last, snapshot)
        self._ports.alive(self._effects.journal_ok)
        if abs(self.last.evidence.clock_jump_s) > JUMP_S:
            self._ports.jumped()
        if arrived.tick is not None:
            self._ports.done(arrived.tick)

    def _samples(self, samples: tuple[Sample, ...], now: Instant) -> tuple[Sample, ...]:
        dry = self._ports.dry
        return samples if dry is None else dry(samples, self.state.working.dispatch, now)

    def _drained(self) -> bool:
        """All feeders are off: by feedback where there is any, else by the life of the last command. Waits at most twice that."""
        if self.last is None:
            return True
        waited_s = time.monotonic() - self._ending_since_s
        if waited_s > 2 * self._plan.site.expires_s + LATE_S:
            log.error("ending although not every feeder is shown off: cut their power by hand")
            return True
        for feeder in self._plan.site.feeders:
            facts = self.last.evidence.feeders[feeder.id]
            asked = self.state.working.dispatch[feeder.id]
            if asked.asked_on or facts.running:
                return False
            if facts.running is None and self.state.durable.clocks.clock_s < asked.expires_at_s:
                return False
        return True
