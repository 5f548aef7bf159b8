"""Keeps one connection to the broker up: connects, falls back to 3.1.1, beats, notices a dead client and replaces it."""

import logging
import sys
import threading
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from typing import Any, Protocol

from paho.mqtt.client import Client, ConnectFlags, DisconnectFlags, MQTTMessage
from paho.mqtt.enums import LogLevel, MQTTErrorCode
from paho.mqtt.properties import Properties
from paho.mqtt.reasoncodes import ReasonCode

from dosectl.bus import faults, link
from dosectl.model.instant import Instant
from dosectl.settings.broker import BrokerSettings

Stamp = Callable[[], Instant]
"""The clock: the moment now. Real, or a simulated plant's."""

_log = logging.getLogger("dosectl.bus")

CALLBACKS = (
    "on_pre_connect",
    "on_socket_open",
    "on_connect",
    "on_connect_fail",
    "on_disconnect",
    "on_message",
    "on_publish",
    "on_log",
)
# What only paho's own thread calls; the rest may also come from a thread that publishes.
_SIGNS_OF_LIFE = frozenset({"on_pre_connect", "on_connect", "on_message"})
# So many connects in a row without an answer, and MQTT 5 never worked here: perhaps the broker knows only the other version.
_MUTE_MAX = 2


@dataclass(frozen=True, slots=True)
class Pace:
    """How fast the link is watched and repaired.

    beat_s, echo_limit_s : heartbeat, and the age of its echo from which the bus is not alive
    reconnect_s : first and longest wait between attempts [s]; paho doubles in between
    silent_beats : after so many beats without a sign of paho's thread its client is replaced (a thread that died tells nobody)
    breaks, breaks_window_s : so many broken connections within the window are a take-over
    fault_hold_s : a fault that is an event stands so long after it
    """

    beat_s: float = 1.0
    echo_limit_s: float = 5.0
    reconnect_s: tuple[float, float] = (1.0, 8.0)
    silent_beats: int = 30
    breaks: int = 3
    breaks_window_s: float = 30.0
    fault_hold_s: float = 60.0


class Post(Protocol):
    """Hands a message to paho. The number of a QoS 1 message, 0 for QoS 0, None where it did not leave."""

    def __call__(
        self, topic: str, payload: bytes, qos: int, *, retain: bool = False, expires_s: int | None = None
    ) -> int | None: ...


class User(Protocol):
    """Whose connection it is. All but `beat` are called in paho's thread and must not block."""

    def subscriptions(self) -> tuple[tuple[str, bool], ...]: ...

    def greet(self, post: Post) -> None: ...  # first messages on a new connection, before anyone else may send

    def message(self, topic: str, payload: bytes, retained: bool) -> None: ...

    def acked(self, mid: int, refusal: str | None) -> None: ...

    def changed(self, is_up: bool, text: str) -> None: ...

    def beat(self, post: Post) -> None: ...

    def farewell(self, post: Post) -> bool: ...  # last messages; True when nothing is outstanding any more


class LinkKeeper:
    """Owns paho's client and, with a thread of its own, its life.

    Every callback is wrapped: an exception that reached paho would end its thread and leave a client that says it is connected.
    """

    def __init__(
        self, settings: BrokerSettings, user: User, stamp: Stamp, pace: Pace, standing: faults.Faults, will_topic: str
    ) -> None:
        self.callback_errors = 0
        self._settings = settings
        self._user = user
        self._stamp = stamp
        self._pace = pace
        self._faults = standing
        self._will_topic = will_topic
        self._where = f"{settings.host}:{settings.port}"
        self._breaks = faults.Breaks(pace.breaks, pace.breaks_window_s)
        self.protocol = link.V311 if settings.protocol == link.V311 else link.V5
        self.is_up = False
        self._client: Client | None = None
        self._was_answered = False
        self._v5_worked = settings.protocol != link.AUTO
        self._mute = 0
        self._silent_beats = 0
        self._replace = threading.Event()
        self._wake = threading.Event()
        self._ending = threading.Event()
        self._thread = threading.Thread(target=self._run, name="bus-keeper", daemon=True)

    def start(self) -> None:
        """Begins to connect and never stops trying."""
        self._thread.start()

    def stop(self, limit_s: float) -> None:
        """Hangs up in order; waits at most `limit_s`."""
        self._ending.set()
        self._wake.set()
        if self._thread.is_alive():
            self._thread.join(limit_s)

    def post(self, topic: str, payload: bytes, qos: int, *, retain: bool = False, expires_s: int | None = None) -> int | None:
        """See Post; nothing is handed to paho while the link is not up, for it would keep it and deliver it later."""
        client = self._client
        if client is None or not self.is_up:
            return None
        return self._hand_over(client, topic, payload, qos, retain, expires_s)

    def _hand_over(self, client: Client, topic: str, payload: bytes, qos: int, retain: bool, expires_s: int | None) -> int | None:
        properties = link.expiry(expires_s) if self.protocol == link.V5 else None
        info = client.publish(topic, payload, qos, retain, properties)
        if info.rc != MQTTErrorCode.MQTT_ERR_SUCCESS:
            return None  # paho may have kept it; what it kept is dropped before the next connection is used
        return info.mid if qos > 0 else 0

    # --- the keeper's own thread ---

    def _run(self) -> None:
        while not self._ending.is_set():
            try:
                self._once()
            except Exception as trouble:  # noqa: BLE001  # without this thread there is no heartbeat and no repair
                self._failed("keeper", trouble)
            self._wake.wait(self._pace.beat_s)
            self._wake.clear()
        with suppress(Exception):
            self._say_farewell()
        self._discard("ended")

    def _once(self) -> None:
        self._silent_beats += 1
        if self._silent_beats > self._pace.silent_beats:
            self._replace.set()
        if self._replace.is_set():
            self._replace.clear()
            self._discard("given up, a new one is made")
        if self._client is None:
            self._build()
        self._user.beat(self.post)

    def _build(self) -> None:
        self._silent_beats = 0
        try:
            client = link.make_client(self._settings, self.protocol, self._settings.client_id, self._pace.reconnect_s)
            for name in CALLBACKS:
                setattr(client, name, self._wrapped(name))
            if not self._is_trial:
                client.will_set(self._will_topic, b"0", qos=1, retain=True)
            link.connect_async(client, self._settings, self.protocol, bare=self._is_trial)
        except (OSError, ValueError) as trouble:
            self._faults.stand(faults.UNREACHABLE, self._stamp(), where=self._where, text=str(trouble))
            return
        self._client = client
        client.loop_start()

    @property
    def _is_trial(self) -> bool:
        """It is not known whether the broker speaks MQTT 5: it is asked by a bare connect, then the real connection is made."""
        return self.protocol == link.V5 and not self._v5_worked

    def _discard(self, text: str) -> None:
        client, self._client = self._client, None
        self._went_down(text)
        if client is None:
            return
        with suppress(Exception):
            client.disconnect()
        # Its thread may hang in a connect or be dead: nobody waits for it.
        threading.Thread(target=_end_loop, args=(client,), name="bus-end", daemon=True).start()

    def _say_farewell(self) -> None:
        tick_s = 0.02
        for _ in range(int(1.0 / tick_s)):
            if not self.is_up or self._user.farewell(self.post):
                return
            threading.Event().wait(tick_s)

    # --- paho's thread ---

    def _wrapped(self, name: str) -> Callable[..., None]:
        inner = getattr(self, "_" + name)

        def call(client: Client, *arguments: Any) -> None:
            if client is not self._client:
                return  # given up already
            if name in _SIGNS_OF_LIFE:
                self._silent_beats = 0
            try:
                inner(client, *arguments)
            except Exception as trouble:  # noqa: BLE001  # see the class
                self._failed(name, trouble)
                if name == "on_connect":  # it may have no subscriptions: begin anew
                    self._replace.set()
                if name == "on_disconnect":  # whatever went wrong there, nothing may be sent as if it were up
                    self.is_up = False

        return call

    def _failed(self, where: str, trouble: Exception) -> None:
        _log.error("bus: %s failed", where, exc_info=trouble)
        text = f"{type(trouble).__name__}: {trouble}"[:200]
        self._faults.stand(faults.CALLBACK, self._stamp(), for_s=self._pace.fault_hold_s, where=where, text=text)
        self.callback_errors += 1  # last: who sees it counted finds it standing

    def _on_pre_connect(self, _client: Client, _userdata: Any) -> None:
        self._was_answered = False

    def _on_socket_open(self, client: Client, userdata: Any, sock: Any) -> None:
        link.without_delay(client, userdata, sock)

    def _on_connect(
        self, client: Client, _userdata: Any, _flags: ConnectFlags, reason: ReasonCode, _properties: Properties | None
    ) -> None:
        self._was_answered = True
        if reason.is_failure:
            self._refused(str(reason))
            return
        self._mute = 0
        if self._is_trial:
            self._v5_worked = True
            self._replace.set()
            self._wake.set()
            return
        client.drop_out_messages()  # whatever paho kept from before: an ON among it would be delivered as if it were new
        link.subscribe(client, self.protocol, self._user.subscriptions())

        def post(topic: str, payload: bytes, qos: int, *, retain: bool = False, expires_s: int | None = None) -> int | None:
            return self._hand_over(client, topic, payload, qos, retain, expires_s)

        self._user.greet(post)
        self.is_up = True
        self._faults.lift(faults.REFUSED, faults.UNREACHABLE)
        self._user.changed(True, f"connected to {self._where}, MQTT {self.protocol}")
        self._wake.set()  # the first heartbeat at once

    def _refused(self, text: str) -> None:
        if text == link.UNSUPPORTED_PROTOCOL and self._is_trial:
            self._try_other(link.V311)
            return
        self._faults.stand(faults.REFUSED, self._stamp(), where=self._where, text=text)

    def _try_other(self, protocol: str) -> None:
        _log.warning("the broker at %s gives no answer to MQTT %s: %s is tried", self._where, self.protocol, protocol)
        self.protocol = protocol
        self._mute = 0
        self._replace.set()
        self._wake.set()

    def _on_connect_fail(self, _client: Client, _userdata: Any) -> None:
        trouble = sys.exc_info()[1]  # paho calls this while it handles the exception, and tells nothing of it
        self._faults.stand(faults.UNREACHABLE, self._stamp(), where=self._where, text=str(trouble or "no connection"))

    def _on_disconnect(
        self, _client: Client, _userdata: Any, _flags: DisconnectFlags, reason: ReasonCode, _properties: Properties | None
    ) -> None:
        if self.is_up and not self._ending.is_set() and self._breaks.broke():
            self._faults.stand(
                faults.TAKEOVER,
                self._stamp(),
                for_s=self._pace.fault_hold_s,
                count=self._breaks.count,
                window_s=self._breaks.window_s,
                client_id=self._settings.client_id,
            )
        self._went_down(str(reason))
        if self._was_answered:
            return
        text = f"no answer to the connect with MQTT {self.protocol} ({reason})"
        self._faults.stand(faults.UNREACHABLE, self._stamp(), where=self._where, text=text)
        self._mute += 1
        if self._mute >= _MUTE_MAX and not self._v5_worked:
            self._try_other(link.V311 if self.protocol == link.V5 else link.V5)

    def _went_down(self, text: str) -> None:
        if self.is_up:
            self.is_up = False
            if not self._ending.is_set():  # to hang up is no fault
                self._faults.stand(faults.UNREACHABLE, self._stamp(), where=self._where, text=text)
            self._user.changed(False, text)

    def _on_message(self, _client: Client, _userdata: Any, message: MQTTMessage) -> None:
        self._user.message(message.topic, bytes(message.payload), bool(message.retain))

    def _on_publish(self, _client: Client, _userdata: Any, mid: int, reason: ReasonCode, _properties: Properties | None) -> None:
        self._user.acked(mid, str(reason) if reason.is_failure else None)

    def _on_log(self, _client: Client, _userdata: Any, level: int, text: str) -> None:
        if level == LogLevel.MQTT_LOG_ERR:
            _log.error("paho: %s", text)


def _end_loop(client: Client) -> None:
    with suppress(Exception):
        client.loop_stop()
