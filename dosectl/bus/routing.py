"""Which item a message becomes, by its topic. No client, no clock: the arrival time is an argument."""

import threading
from collections import deque

from dosectl.bus import documents
from dosectl.bus.commands import owner_of
from dosectl.bus.decode import decode
from dosectl.bus.items import DropItem, ForeignItem, Item, SampleItem
from dosectl.bus.topics import Topics
from dosectl.bus.wiring import Wiring
from dosectl.model.instant import Instant
from dosectl.model.signals import ForeignCommand, NodeId, Sample
from dosectl.settings.bindings import SignalBinding

# How many of our own commands may be on their way back at once before the oldest is forgotten.
_OWN_MAX = 64


class OwnCommands:
    """Commands we sent whose copy has not come back yet: MQTT 3.1.1 gives every subscriber its own messages again.

    Each sending is taken for one copy only, so a stranger's word-for-word repeat of ours is still a stranger's.
    """

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._sent: deque[tuple[str, bytes]] = deque(maxlen=_OWN_MAX)

    def sent(self, topic: str, payload: bytes) -> None:
        """This is about to go out."""
        with self._lock:
            self._sent.append((topic, payload))

    def came_back(self, topic: str, payload: bytes) -> bool:
        """Whether what arrived is a copy of ours; each counts once."""
        with self._lock:
            try:
                self._sent.remove((topic, payload))
            except ValueError:
                return False
            return True

    def forget(self) -> None:
        """The connection is new: copies that were on their way are lost."""
        with self._lock:
            self._sent.clear()


class Router:
    """Knows every topic that is listened to."""

    def __init__(self, wiring: Wiring, topics: Topics) -> None:
        self.topics = topics
        self.own = OwnCommands()
        self._demo = wiring.demo
        self._bindings: dict[str, tuple[SignalBinding, ...]] = {}
        for binding in wiring.bindings:
            self._bindings[binding.topic] = (*self._bindings.get(binding.topic, ()), binding)
        self._nodes: dict[str, NodeId] = {topics.node_status(node): node for node in wiring.nodes}
        self._commands = wiring.command_topics(topics)

    def note_own(self, topic: str, payload: bytes) -> None:
        """A message of ours is about to leave."""
        if topic in self._commands:
            self.own.sent(topic, payload)

    def subscriptions(self) -> tuple[tuple[str, bool], ...]:
        """Topics to subscribe to, and whether our own messages there are of no interest (MQTT 5 can leave them out)."""
        plain = {*self._bindings, *self._nodes, self.topics.echo, self.topics.asks}
        if self._demo:
            plain.add(self.topics.sim_tick)
        plain -= self._commands
        return (*((topic, False) for topic in sorted(plain)), *((topic, True) for topic in sorted(self._commands)))

    def items(self, topic: str, payload: bytes, retained: bool, at: Instant, has_own: bool) -> tuple[Item, ...]:
        """The items of one message; `has_own`: the broker also gives us what we sent ourselves (3.1.1)."""
        found: list[Item] = []
        for result in decode(self._bindings[topic], payload, at, retained) if topic in self._bindings else ():
            found.append(SampleItem(result) if isinstance(result, Sample) else DropItem(result, topic))
        if topic in self._commands:
            found.extend(self._foreign(topic, payload, retained, at, has_own))
        if topic in self._nodes:
            found.append(documents.node_status(self._nodes[topic], topic, payload, at, retained))
        if self._demo and topic == self.topics.sim_tick:
            found.append(documents.tick(topic, payload, at, retained))
        asker = self.topics.asker(topic)
        if asker is not None:
            found.append(documents.ask(*asker, topic, payload, at, retained))
        return tuple(found)

    def _foreign(self, topic: str, payload: bytes, retained: bool, at: Instant, has_own: bool) -> tuple[ForeignItem, ...]:
        if not payload:  # how a retained message is cleared; it commands nothing
            return ()
        if has_own and not retained and self.own.came_back(topic, payload):
            return ()
        return (ForeignItem(ForeignCommand(topic, owner_of(payload), at), retained),)
