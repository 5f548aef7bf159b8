"""What the bus tests stand on: a bus with its queue, and a stranger on the wire who sees everything."""

import queue
import time
import uuid
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import UTC, datetime
from typing import Any, TypeVar

import paho.mqtt.client as mqtt
from paho.mqtt.packettypes import PacketTypes
from paho.mqtt.properties import Properties

from dosectl.bus.client import Bus
from dosectl.bus.items import Item, LinkItem
from dosectl.bus.keeper import Pace
from dosectl.bus.wiring import Wiring
from dosectl.model.feeds import FeederId, FeedOff, FeedOn
from dosectl.model.instant import Instant
from dosectl.model.reasons import Code, Reason
from dosectl.model.signals import NodeId, SignalId, SignalKind
from dosectl.settings.bindings import SignalBinding
from dosectl.settings.broker import BrokerSettings, RelayTemplate
from tests.services import LOOPBACK, eventually

CELL = FeederId("cell")
ACID = FeederId("acid")
NODE = NodeId("shed")
RELAY = RelayTemplate(ACID, "relay/acid/set", '{"on":true,"for":{seconds}}', "relay/acid/set", '{"on":false}')
PH = SignalBinding(SignalId("ph"), SignalKind.PH, "probe/ph")
QUICK = Pace(beat_s=0.1, echo_limit_s=0.8, reconnect_s=(0.2, 0.4), fault_hold_s=60.0)

ItemT = TypeVar("ItemT")


def stamp() -> Instant:
    return Instant(time.monotonic(), datetime.now(UTC), "boot-1")


def settings(port: int, **changes: Any) -> BrokerSettings:
    base = {"host": LOOPBACK, "port": port, "base": f"t/{uuid.uuid4().hex[:8]}", "client_id": f"d-{uuid.uuid4().hex[:8]}"}
    return BrokerSettings(**{**base, **changes})


def wiring(*bindings: SignalBinding, demo: bool = False) -> Wiring:
    return Wiring("pool-1", bindings or (PH,), (CELL, ACID), (NODE,), (RELAY,), demo)


def on(feeder: FeederId = CELL, no: int = 1, expires_s: float = 10.0, level: float = 1.0) -> FeedOn:
    return FeedOn(feeder, no, level, expires_s, debit_no=1, node_boot="b7", node_valid_until_ms=20_000)


def off(feeder: FeederId = CELL, no: int = 2) -> FeedOff:
    return FeedOff(feeder, no, Reason(Code("test"), (), stamp()))


@dataclass
class Bench:
    """A running bus and everything it put on the queue."""

    bus: Bus
    items: list[Item]

    def of(self, kind: type[ItemT]) -> list[ItemT]:
        return [item for item in list(self.items) if isinstance(item, kind)]

    def wait(self, kind: type[ItemT], count: int = 1, limit_s: float = 15.0) -> list[ItemT]:
        eventually(lambda: len(self.of(kind)) >= count, limit_s, f"{count} {kind.__name__} in {self.items}")
        return self.of(kind)

    def wait_alive(self) -> None:
        eventually(self.bus.alive, what="the echo comes back")

    def wait_reconnected(self, count: int = 2) -> None:
        """The link came up so many times, and the broker has acknowledged all that was said on it."""
        eventually(lambda: sum(item.up for item in self.of(LinkItem)) >= count, what=f"{count} connections")
        self.wait_settled()

    def wait_settled(self) -> None:
        """The broker has acknowledged all that was said to it."""
        eventually(lambda: self.bus._sender.outbox.is_settled, what="all is acknowledged")


@contextmanager
def running(
    broker: BrokerSettings, wired: Wiring | None = None, pace: Pace = QUICK, clock: Callable[[], Instant] = stamp
) -> Iterator[Bench]:
    items: list[Item] = []
    bus = Bus(broker, wired or wiring(), items.append, clock, pace)
    bus.start()
    try:
        yield Bench(bus, items)
    finally:
        bus.stop()


@dataclass
class Seen:
    topic: str
    payload: bytes
    qos: int
    retained: bool
    expiry_s: int | None


@dataclass
class Stranger:
    """Another client: sees all that is published, and publishes what it likes."""

    client: mqtt.Client
    seen: list[Seen] = field(default_factory=list)

    def publish(self, topic: str, payload: bytes | str, qos: int = 1, retain: bool = False) -> None:
        self.client.publish(topic, payload, qos, retain).wait_for_publish(10)

    def on(self, topic: str) -> list[Seen]:
        return [message for message in list(self.seen) if message.topic == topic]

    def wait(self, topic: str, count: int = 1) -> list[Seen]:
        eventually(lambda: len(self.on(topic)) >= count, what=f"{count} on {topic}")
        return self.on(topic)


@contextmanager
def stranger(
    port: int, *patterns: str, version: int = mqtt.MQTTv5, user: tuple[str, str] | None = None, client_id: str = ""
) -> Iterator[Stranger]:
    client = mqtt.Client(mqtt.CallbackAPIVersion.VERSION2, protocol=version, client_id=client_id or f"s-{uuid.uuid4().hex[:8]}")
    other = Stranger(client)
    ready: queue.Queue[None] = queue.Queue()

    def on_connect(*_: Any) -> None:
        client.subscribe([(pattern, 1) for pattern in patterns or ("#",)])

    def on_message(_client: mqtt.Client, _userdata: Any, message: mqtt.MQTTMessage) -> None:
        expiry = getattr(message.properties, "MessageExpiryInterval", None)
        other.seen.append(Seen(message.topic, bytes(message.payload), message.qos, bool(message.retain), expiry))

    client.on_connect = on_connect
    client.on_message = on_message
    client.on_subscribe = lambda *_: ready.put(None)
    client.reconnect_delay_set(0.2, 0.4)  # type: ignore[arg-type]
    if user:
        client.username_pw_set(*user)
    client.connect(LOOPBACK, port, 10)
    client.loop_start()
    try:
        ready.get(timeout=10)
        yield other
    finally:
        client.disconnect()
        client.loop_stop()


def expiring(seconds: int) -> Properties:
    properties = Properties(PacketTypes.PUBLISH)
    properties.MessageExpiryInterval = seconds
    return properties
