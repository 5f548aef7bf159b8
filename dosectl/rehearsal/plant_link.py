"""The simulated plant's connection to the broker: paho with its traps covered, everything heard put on one queue.

All logic runs in the caller's thread; paho's thread only puts what it hears on the queue.
"""

import socket
import sys
from collections.abc import Callable
from queue import Empty, SimpleQueue
from typing import Any

import paho.mqtt.client as mqtt
from paho.mqtt.enums import CallbackAPIVersion, MQTTProtocolVersion

from dosectl.rehearsal.nodes import Outgoing

PROTOCOLS = {"5": MQTTProtocolVersion.MQTTv5, "3.1.1": MQTTProtocolVersion.MQTTv311}
KEEPALIVE_S = 5
HEARD_BYTES_MAX = 16384


class Heard:
    """One message heard, or (topic "") a new connection whose subscriptions stand."""

    __slots__ = ("payload", "retained", "topic")

    def __init__(self, topic: str, payload: bytes, retained: bool) -> None:
        self.topic = topic
        self.payload = payload
        self.retained = retained


class PlantLink:
    """Connects for ever; subscribes anew on each connection."""

    def __init__(
        self,
        host: str,
        port: int,
        protocol: str,
        topics: tuple[str, ...],
        alive_topic: str,
        account: tuple[str, str] | None = None,
    ) -> None:
        """Raises KeyError for an unknown protocol; see PROTOCOLS."""
        self.faults = 0
        self._heard: SimpleQueue[Heard] = SimpleQueue()
        self._topics = topics
        self._alive_topic = alive_topic
        self._client = mqtt.Client(CallbackAPIVersion.VERSION2, protocol=PROTOCOLS[protocol])
        client = self._client
        client.suppress_exceptions = True
        client.on_socket_open = self._guarded(self._on_socket_open)
        client.on_connect = self._guarded(self._on_connect)
        client.on_subscribe = self._guarded(self._on_subscribe)
        client.on_message = self._guarded(self._on_message)
        client.reconnect_delay_set(1, 8)
        client.will_set(alive_topic, "0", qos=1, retain=True)
        if account is not None:
            client.username_pw_set(*account)
        client.connect_async(host, port, keepalive=KEEPALIVE_S)

    def start(self) -> None:
        """Starts paho's thread; it tries until it is connected."""
        self._client.loop_start()

    def stop(self) -> None:
        """Says goodbye in order and ends paho's thread."""
        info = self._client.publish(self._alive_topic, "0", qos=1, retain=True)
        try:
            info.wait_for_publish(2.0)
        except (RuntimeError, ValueError):
            print("simulated pool: not connected, so its end was not told", file=sys.stderr)
        self._client.disconnect()
        self._client.loop_stop()

    def publish(self, message: Outgoing) -> None:
        """QoS 0; lost while not connected, which is what a node's message is then."""
        self._client.publish(message.topic, message.payload, qos=0, retain=message.retain)

    def hear(self, wait_s: float) -> Heard | None:
        """The next thing heard, or None after `wait_s`."""
        try:
            return self._heard.get(timeout=wait_s) if wait_s > 0.0 else self._heard.get_nowait()
        except Empty:
            return None

    def _guarded(self, callback: Callable[..., None]) -> Callable[..., None]:
        """A callback that raises would end paho's thread while the client still says it is connected."""

        def guarded(*arguments: Any) -> None:
            try:
                callback(*arguments)
            except Exception as error:  # noqa: BLE001 - paho's thread must live; told and counted
                self.faults += 1
                print(f"simulated pool: {callback.__name__} failed: {error!r}", file=sys.stderr)

        return guarded

    def _on_socket_open(self, _client: mqtt.Client, _userdata: object, sock: socket.socket) -> None:
        # Without it a reply waits some 40 ms for the delayed acknowledgement of the segment before.
        sock.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)

    def _on_connect(self, client: mqtt.Client, _userdata: object, _flags: object, reason: Any, _properties: object) -> None:
        if reason.is_failure:
            print(f"simulated pool: the broker refuses the connection: {reason}; trying again", file=sys.stderr)
            return
        client.subscribe([(topic, 1) for topic in self._topics])
        client.publish(self._alive_topic, "1", qos=1, retain=True)

    def _on_subscribe(self, *_arguments: object) -> None:
        self._heard.put(Heard("", b"", False))

    def _on_message(self, _client: mqtt.Client, _userdata: object, message: mqtt.MQTTMessage) -> None:
        if len(message.payload) <= HEARD_BYTES_MAX:
            self._heard.put(Heard(message.topic, bytes(message.payload), bool(message.retain)))
