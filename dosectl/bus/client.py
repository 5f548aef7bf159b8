"""The daemon's side of the bus: what may be sent and when, whether the bus is alive, and what is wrong with it."""

import json
import logging
from collections.abc import Callable, Mapping
from typing import Any

from dosectl.bus.commands import Unsendable, message_of
from dosectl.bus.faults import Faults
from dosectl.bus.items import Item
from dosectl.bus.keeper import LinkKeeper, Pace, Stamp
from dosectl.bus.receiver import Receiver
from dosectl.bus.routing import Router
from dosectl.bus.sender import Sender
from dosectl.bus.topics import Topics
from dosectl.bus.wiring import Wiring
from dosectl.model.feeds import FeedCommand
from dosectl.model.reasons import Code, Reason
from dosectl.model.requests import Reply
from dosectl.settings.broker import BrokerSettings

_log = logging.getLogger("dosectl.bus")
_PACE = Pace()


class Bus:
    """Turns messages into items and commands into messages.

    out : takes an item from any thread; bounded, must not block
    stamp : the clock of arrival times and of the echo's age
    """

    def __init__(
        self, settings: BrokerSettings, wiring: Wiring, out: Callable[[Item], object], stamp: Stamp, pace: Pace = _PACE
    ) -> None:
        self.topics = Topics(settings.base)
        self._wiring = wiring
        self._stamp = stamp
        self._faults = Faults()
        router = Router(wiring, self.topics)
        self._sender = Sender(router.note_own, self._faults, stamp)
        self._receiver = Receiver(
            self.topics, router, self._sender, self._faults, out, stamp, pace, lambda: self._keeper.protocol
        )
        self._keeper = LinkKeeper(settings, self._receiver, stamp, pace, self._faults, self.topics.alive)

    def start(self) -> None:
        """Begins to connect; never raises for an absent broker or wrong settings (see fault_reasons), and never stops trying."""
        self._keeper.start()

    def stop(self, limit_s: float = 4.0) -> None:
        """Says that the daemon is gone and hangs up; waits at most `limit_s`. Send the OFFs before."""
        self._keeper.stop(limit_s)

    # --- health ---

    def echo_age_s(self) -> float | None:
        """Age of our newest heartbeat that came back [s], None before the first."""
        return self._receiver.echo.age_s(self._stamp())

    def alive(self) -> bool:
        """The bus carries messages there and back: judged by the echo alone, never by the client's flag."""
        return self._receiver.alive()

    @property
    def protocol(self) -> str:
        """The MQTT version in use or being tried: "5" or "3.1.1"."""
        return self._keeper.protocol

    @property
    def callback_errors(self) -> int:
        """How many messages or events of the link ended in an exception of ours."""
        return self._keeper.callback_errors

    def fault_reasons(self) -> tuple[Reason, ...]:
        """What is wrong now, with facts; the words are in `faults.KINDS`."""
        return self._faults.reasons()

    def faults(self) -> tuple[Code, ...]:
        """The codes of what is wrong now, for the step's health."""
        return tuple(reason.code for reason in self._faults.reasons())

    # --- sending ---

    def command(self, command: FeedCommand) -> bool:
        """Sends a command now; True when it left. An ON that can't leave now never will; an OFF is said again on connecting."""
        relay = self._wiring.relay(command.feeder)
        try:
            message = message_of(command, self.topics, self._wiring.ident, relay, self._stamp().utc)
        except Unsendable:
            _log.exception("a command was not sent")
            return False
        if not message.energises:
            self._sender.outbox.want_off(message)
            return self._sender.send(self._keeper.post, message.topic, message.payload, 1, off=message)
        if not self._keeper.is_up or not self.alive() or self._sender.outbox.is_full:
            return False
        self._sender.outbox.want_on(message.feeder)
        return self._sender.send(self._keeper.post, message.topic, message.payload, 1, expires_s=message.expires_s)

    def publish_state(self, view: Mapping[str, Any]) -> bool:
        """The retained view of the state. False while the link is down: the newest follows on connecting."""
        return self._retain(self.topics.state, _json(view), 0)

    def publish_pump_hours(self, hours: float) -> bool:
        """The retained request for hours of flow. [h]"""
        return self._retain(self.topics.pump_hours, f"{hours:g}".encode(), 1)

    def publish_alarm(self, code: Code, view: Mapping[str, Any] | None) -> bool:
        """The retained state of one alarm; None takes it away."""
        return self._retain(self.topics.alarm(code), b"" if view is None else _json(view), 1)

    def publish_summary(self, summary: Mapping[str, Any]) -> bool:
        """The retained summary of the last day."""
        return self._retain(self.topics.summary, _json(summary), 1)

    def publish_reply(self, account: str, reply: Reply, text: str) -> bool:
        """A reply to an account. False where it could not leave: who asks again with the same id gets it again."""
        body = {"request": reply.request, "done": reply.done, "code": reply.code, "facts": dict(reply.facts), "text": text}
        return self._sender.send(self._keeper.post, self.topics.reply(account), _json(body), 1)

    def publish_done(self, no: int) -> bool:
        """Simulated pool only: the step of that tick is done, and everything it had to send is sent."""
        return self._sender.send(self._keeper.post, self.topics.sim_done, _json({"n": no}), 1)

    def clear_retained(self, topic: str) -> bool:
        """Takes a retained message that does not belong there out of the broker."""
        return self._sender.send(self._keeper.post, topic, b"", 1, retain=True)

    def _retain(self, topic: str, payload: bytes, qos: int) -> bool:
        self._sender.outbox.keep_retained(topic, payload)
        return self._sender.send(self._keeper.post, topic, payload, qos, retain=True)


def _json(body: Mapping[str, Any]) -> bytes:
    return json.dumps(body, allow_nan=False, separators=(",", ":"), default=str).encode()
