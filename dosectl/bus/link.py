"""One paho client, set up so that none of its silent traps is left open."""

import socket
from typing import Any

from paho.mqtt.client import Client, MQTTv5, MQTTv311
from paho.mqtt.enums import CallbackAPIVersion
from paho.mqtt.packettypes import PacketTypes
from paho.mqtt.properties import Properties
from paho.mqtt.subscribeoptions import SubscribeOptions

from dosectl.settings.broker import BrokerSettings

V5 = "5"
V311 = "3.1.1"
AUTO = "auto"

# A message that has no place with us is still received up to here, so that it is counted; above, a broker of version 5 keeps it.
PACKET_BYTES_MAX = 1_000_000
# Only a net: nothing is published while the link is down. Without a bound paho would keep everything, and deliver it later.
QUEUED_MAX = 32
CONNECT_LIMIT_S = 5.0
BARE_KEEPALIVE_S = 2
UNSUPPORTED_PROTOCOL = "Unsupported protocol version"


def make_client(settings: BrokerSettings, protocol: str, client_id: str, reconnect_s: tuple[float, float] = (1.0, 8.0)) -> Client:
    """A client that is not connected yet.

    Raises OSError (also ssl.SSLError) where the authority's file can't be read, ValueError for settings that paho refuses.
    """
    client = Client(
        CallbackAPIVersion.VERSION2,
        client_id=client_id,
        clean_session=True if protocol == V311 else None,
        protocol=MQTTv311 if protocol == V311 else MQTTv5,
    )
    client.suppress_exceptions = True  # the second net: callbacks are wrapped already
    client.connect_timeout = CONNECT_LIMIT_S
    client.reconnect_delay_set(*reconnect_s)  # type: ignore[arg-type]  # typed as whole seconds, but any number is waited for
    client.max_queued_messages_set(QUEUED_MAX)
    client.on_socket_open = without_delay
    if settings.username is not None:
        client.username_pw_set(settings.username, settings.password)
    if settings.ca_file is not None:
        client.tls_set(ca_certs=settings.ca_file)
    return client


def without_delay(_client: Client, _userdata: Any, sock: Any) -> None:
    """Small messages leave at once: with a command answered by feedback, Nagle and delayed ACK cost 40 ms a side. Measured."""
    sock.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)


def connect_async(client: Client, settings: BrokerSettings, protocol: str, *, bare: bool = False) -> None:
    """Lets the client's own thread connect, again and again; an absent broker raises nothing. ValueError for an empty host.

    bare : without any property of MQTT 5, and giving up soon on an answer: a broker of 3.1.1 alone reads a bare connect far
        enough to refuse the version, and properties as garbage that it may never answer
    """
    keepalive_s = min(settings.keepalive_s, BARE_KEEPALIVE_S) if bare else settings.keepalive_s
    if protocol == V311:
        client.connect_async(settings.host, settings.port, keepalive_s)
        return
    limits = None
    if not bare:
        limits = _properties(PacketTypes.CONNECT)
        limits.MaximumPacketSize = PACKET_BYTES_MAX
    # A new session each time: what the broker kept for us while we were away is old.
    client.connect_async(settings.host, settings.port, keepalive_s, clean_start=True, properties=limits)


def expiry(expires_s: int | None) -> Properties | None:
    """Publish properties that let the broker drop the message after so many seconds, None for no end."""
    if expires_s is None:
        return None
    properties = _properties(PacketTypes.PUBLISH)
    properties.MessageExpiryInterval = expires_s
    return properties


def subscribe(client: Client, protocol: str, wanted: tuple[tuple[str, bool], ...]) -> None:
    """Subscribes to all at QoS 1, so that the publisher's choice decides. The flag leaves our own messages out (MQTT 5)."""
    if not wanted:
        return
    if protocol == V311:
        client.subscribe([(topic, 1) for topic, _ in wanted])
    else:
        client.subscribe([(topic, SubscribeOptions(qos=1, noLocal=no_local)) for topic, no_local in wanted])


def _properties(packet: int) -> Properties:
    return Properties(packet)  # type: ignore[no-untyped-call]
