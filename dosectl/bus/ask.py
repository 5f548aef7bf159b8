"""The other end of the bus, for the command line: ask and wait for the reply, read the retained state, listen."""

import json
import queue
import sys
import time
import uuid
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from typing import Any

from paho.mqtt.client import Client, MQTTMessage
from paho.mqtt.reasoncodes import ReasonCode

from dosectl.bus import link
from dosectl.bus.topics import Topics
from dosectl.model.requests import Place
from dosectl.settings.broker import BrokerSettings

CONNECT_LIMIT_S = 8.0
# Asked again within the limit with the same id: the daemon gives the same reply, so a lost message costs a moment only.
REPEAT_S = 3.0


class NoBroker(Exception):
    """The broker can't be reached or refuses; the text says who and why."""


class NotAllowed(Exception):
    """The broker's access list forbids this account to ask there."""


@dataclass(frozen=True, slots=True)
class Answer:
    """The daemon's reply. `text` is the sentence for a person; `done` is the daemon's word that it was done."""

    request: str
    done: bool
    code: str
    facts: Mapping[str, Any]
    text: str


@dataclass(frozen=True, slots=True)
class Heard:
    """One message as it came."""

    topic: str
    payload: bytes
    retained: bool


class Asker:
    """One short connection, a context manager. Raises NoBroker on entry when there is no connection within `connect_s`.

    settings : of the broker; the client id is made unique, for with the daemon's own the two would throw each other off
    """

    def __init__(self, settings: BrokerSettings, connect_s: float = CONNECT_LIMIT_S, repeat_s: float = REPEAT_S) -> None:
        self.topics = Topics(settings.base)
        self._settings = replace(settings, client_id=f"{settings.client_id}-ask-{uuid.uuid4().hex[:8]}")
        self._connect_s = connect_s
        self._repeat_s = repeat_s
        self._heard: queue.Queue[Heard] = queue.Queue(maxsize=10_000)
        self._answered: queue.Queue[str | None] = queue.Queue()
        self._subscribed: queue.Queue[None] = queue.Queue()
        self._acks: queue.Queue[tuple[int, str | None]] = queue.Queue()
        self._trouble = "no answer"
        self._patterns: dict[str, None] = {}
        self._client: Client | None = None
        self._protocol = link.V5

    def __enter__(self) -> "Asker":
        wanted = self._settings.protocol
        tries = (link.V5, link.V311) if wanted == link.AUTO else (wanted,)
        for protocol in tries:
            refusal = self._connect(protocol)
            if refusal is None:
                return self
            self._hang_up()
            if refusal != link.UNSUPPORTED_PROTOCOL:
                break
        raise NoBroker(f"{self._settings.host}:{self._settings.port}: {refusal}")

    def __exit__(self, *_: object) -> None:
        self._hang_up()

    def ask(
        self,
        account: str,
        place: Place,
        kind: str,
        arguments: Mapping[str, float | int | bool | str],
        by: str,
        limit_s: float = 10.0,
    ) -> Answer | None:
        """The daemon's reply, or None when none came within `limit_s` (whether it was done is not known then).

        Raises NoBroker where the link broke, NotAllowed where the broker says that this account may not ask there.
        """
        request = uuid.uuid4().hex
        expires = datetime.now(UTC) + timedelta(seconds=limit_s)
        body = {"id": request, "kind": kind, "arguments": dict(arguments), "by": by, "expires_utc": expires.isoformat()}
        payload = json.dumps(body, allow_nan=False).encode()
        self._subscribe(self.topics.reply(account))
        end = time.monotonic() + limit_s
        while (left := end - time.monotonic()) > 0:
            self._publish(self.topics.ask(account, place), payload, limit_s)
            answer = self._wait_for(request, min(left, self._repeat_s))
            if answer is not None:
                return answer
        return None

    def state(self, limit_s: float = 3.0) -> dict[str, Any] | None:
        """The daemon's retained view of the state, None where none comes within `limit_s`. Its own time says how old it is."""
        for heard in self.listen((self.topics.state,), limit_s):
            if heard.topic == self.topics.state and heard.payload:
                body = json.loads(heard.payload)
                return body if isinstance(body, dict) else None
        return None

    def listen(self, patterns: tuple[str, ...], for_s: float | None = None) -> Iterator[Heard]:
        """Messages of these topics (wildcards allowed) as they come, for `for_s` seconds or without end."""
        self._subscribe(*patterns)  # now, not at the first `next`
        return self._messages(for_s)

    def publish(self, topic: str, body: Mapping[str, Any], limit_s: float = 5.0) -> None:
        """One JSON message, confirmed by the broker (in a simulation: a fault). Raises NotAllowed or NoBroker."""
        self._publish(topic, json.dumps(body, allow_nan=False).encode(), limit_s)

    # --- inside ---

    def _messages(self, for_s: float | None) -> Iterator[Heard]:
        end = None if for_s is None else time.monotonic() + for_s
        while end is None or time.monotonic() < end:
            left = 1.0 if end is None else max(0.0, min(1.0, end - time.monotonic()))
            try:
                yield self._heard.get(timeout=left)
            except queue.Empty:
                continue

    def _connect(self, protocol: str) -> str | None:
        try:
            client = link.make_client(self._settings, protocol, self._settings.client_id, (0.5, 2.0))
            client.on_connect = self._on_connect
            client.on_connect_fail = self._on_connect_fail
            client.on_message = self._on_message
            client.on_subscribe = lambda *_: self._subscribed.put(None)
            client.on_publish = self._on_publish
            link.connect_async(client, self._settings, protocol, bare=True)
        except (OSError, ValueError) as trouble:
            return str(trouble)
        self._protocol = protocol
        self._client = client
        client.loop_start()
        try:
            return self._answered.get(timeout=self._connect_s)
        except queue.Empty:
            return self._trouble

    def _hang_up(self) -> None:
        client, self._client = self._client, None
        if client is not None:
            client.disconnect()
            client.loop_stop()

    def _subscribe(self, *patterns: str) -> None:
        assert self._client is not None, "use it as a context manager"
        self._patterns |= dict.fromkeys(patterns)
        link.subscribe(self._client, self._protocol, tuple((pattern, False) for pattern in patterns))
        try:
            self._subscribed.get(timeout=self._connect_s)
        except queue.Empty:
            raise NoBroker(f"{self._settings.host}:{self._settings.port}: no answer to a subscription") from None

    def _publish(self, topic: str, payload: bytes, limit_s: float) -> None:
        assert self._client is not None, "use it as a context manager"
        info = self._client.publish(
            topic, payload, 1, properties=link.expiry(max(1, int(limit_s))) if self._protocol == link.V5 else None
        )
        end = time.monotonic() + limit_s
        while (left := end - time.monotonic()) > 0:
            try:
                mid, refusal = self._acks.get(timeout=left)
            except queue.Empty:
                break
            if mid == info.mid:
                if refusal is not None:
                    raise NotAllowed(f"the broker refused the message on {topic}: {refusal}")
                return
        raise NoBroker(f"{self._settings.host}:{self._settings.port}: no answer to a message on {topic}")

    def _wait_for(self, request: str, limit_s: float) -> Answer | None:
        end = time.monotonic() + limit_s
        while (left := end - time.monotonic()) > 0:
            try:
                heard = self._heard.get(timeout=left)
            except queue.Empty:
                return None
            answer = _answer_of(heard)
            if answer is not None and answer.request == request:
                return answer
        return None

    def _on_connect(self, client: Client, _userdata: Any, _flags: Any, reason: ReasonCode, _properties: Any) -> None:
        if not reason.is_failure:  # after a broker's restart it knows nothing of us
            link.subscribe(client, self._protocol, tuple((pattern, False) for pattern in self._patterns))
        self._answered.put(str(reason) if reason.is_failure else None)

    def _on_connect_fail(self, _client: Client, _userdata: Any) -> None:
        self._trouble = str(sys.exc_info()[1] or "no connection")

    def _on_message(self, _client: Client, _userdata: Any, message: MQTTMessage) -> None:
        if not self._heard.full():  # who listens to a flood and does not read loses the newest
            self._heard.put_nowait(Heard(message.topic, bytes(message.payload), bool(message.retain)))

    def _on_publish(self, _client: Client, _userdata: Any, mid: int, reason: ReasonCode, _properties: Any) -> None:
        self._acks.put((mid, str(reason) if reason.is_failure else None))


def _answer_of(heard: Heard) -> Answer | None:
    if heard.retained:
        return None
    try:
        body = json.loads(heard.payload)
        return Answer(str(body["request"]), body["done"] is True, str(body["code"]), dict(body["facts"]), str(body["text"]))
    except (ValueError, TypeError, LookupError):
        return None
