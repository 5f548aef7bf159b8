"""What this installation has on the bus: which topics are listened to, and which relay or node a feeder hangs on."""

from collections.abc import Sequence
from dataclasses import dataclass

from dosectl.bus.topics import Topics
from dosectl.core.site import Site
from dosectl.model.feeds import FeederId
from dosectl.model.signals import NodeId
from dosectl.settings.bindings import SignalBinding
from dosectl.settings.broker import RelayTemplate


@dataclass(frozen=True, slots=True)
class Wiring:
    """All that is bound to topics.

    ident : this controller's name, the `owner` of its commands
    demo : a simulated pool owns the clock; its ticks are listened to
    """

    ident: str
    bindings: tuple[SignalBinding, ...]
    feeders: tuple[FeederId, ...]
    nodes: tuple[NodeId, ...]
    relays: tuple[RelayTemplate, ...] = ()
    demo: bool = False

    def relay(self, feeder: FeederId) -> RelayTemplate | None:
        """The feeder's relay template, None where a node carries it."""
        for relay in self.relays:
            if relay.feeder == feeder:
                return relay
        return None

    def command_topics(self, topics: Topics) -> frozenset[str]:
        """Every topic on which a feeder could be commanded."""
        found: set[str] = set()
        for feeder in self.feeders:
            relay = self.relay(feeder)
            found |= {topics.command(feeder)} if relay is None else {relay.on_topic, relay.off_topic}
        return frozenset(found)


def wiring_of(site: Site, bindings: Sequence[SignalBinding], relays: Sequence[RelayTemplate] = (), demo: bool = False) -> Wiring:
    """The wiring of a site."""
    nodes = dict.fromkeys(feeder.node for feeder in site.feeders if feeder.node is not None)
    return Wiring(site.ident, tuple(bindings), tuple(f.id for f in site.feeders), tuple(nodes), tuple(relays), demo)
