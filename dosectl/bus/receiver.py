"""What happens on the link, seen from the installation: first messages, items out of messages, the heartbeat."""

import logging
from collections.abc import Callable

from dosectl.bus import faults
from dosectl.bus.drops import drop_words
from dosectl.bus.echo import Echo
from dosectl.bus.items import DropItem, EchoItem, Item, LinkItem, SampleItem, TickItem
from dosectl.bus.keeper import Pace, Post, Stamp
from dosectl.bus.link import V311
from dosectl.bus.routing import Router
from dosectl.bus.sender import Sender
from dosectl.bus.topics import Topics

_log = logging.getLogger("dosectl.bus")
_TOLD_MAX = 256


class Receiver:
    """The keeper's user (see keeper.User)."""

    def __init__(
        self,
        topics: Topics,
        router: Router,
        sender: Sender,
        standing: faults.Faults,
        out: Callable[[Item], object],
        stamp: Stamp,
        pace: Pace,
        protocol: Callable[[], str],
    ) -> None:
        self.echo = Echo()
        self._topics = topics
        self._router = router
        self._sender = sender
        self._faults = standing
        self._out = out
        self._stamp = stamp
        self._pace = pace
        self._protocol = protocol
        self._was_alive = False
        self._said_farewell = False
        self._told: set[tuple[str, str]] = set()

    def alive(self) -> bool:
        """The newest echo is young enough."""
        age = self.echo.age_s(self._stamp())
        return age is not None and age <= self._pace.echo_limit_s

    def subscriptions(self) -> tuple[tuple[str, bool], ...]:
        """All of them, on every new connection: sessions do not survive a broker's restart."""
        return self._router.subscriptions()

    def greet(self, post: Post) -> None:
        """OFFs that may not have arrived, then everything of ours that the broker should hold; it may have lost it."""
        self._sender.outbox.new_connection()
        self._router.own.forget()
        for off in self._sender.outbox.offs():
            self._sender.send(post, off.topic, off.payload, 1, off=off)
        self._sender.send(post, self._topics.alive, b"1", 1, retain=True)
        for topic, payload in self._sender.outbox.retained():
            self._sender.send(post, topic, payload, 1, retain=True)

    def message(self, topic: str, payload: bytes, retained: bool) -> None:
        """Turns one message into items."""
        if topic == self._topics.echo:
            heard = None if retained else self.echo.hear(payload)
            if heard is not None and not heard.ours:
                self._faults.stand(faults.TWIN, self._stamp(), for_s=self._pace.fault_hold_s, base=self._topics.base)
            return
        now = self._stamp()
        for item in self._router.items(topic, payload, retained, now, has_own=self._protocol() == V311):
            if isinstance(item, TickItem):
                # It went plant, broker, us, and the plant waits for our answer: a round trip. In fast time our own heartbeat
                # is minutes of the plant's time apart and would look dead.
                self.echo.mark(now.boot, item.mono_s)
            self._log_once(item)
            self._out(item)

    def acked(self, mid: int, refusal: str | None) -> None:
        """See Sender."""
        self._sender.acked(mid, refusal)

    def changed(self, is_up: bool, text: str) -> None:
        """The link came up or went down."""
        _log.log(logging.INFO if is_up else logging.WARNING, "link %s: %s", "up" if is_up else "down", text)
        self._out(LinkItem(is_up, text, self._stamp()))

    def beat(self, post: Post) -> None:
        """Sends a heartbeat, and tells of a change of life."""
        now = self._stamp()
        post(self._topics.echo, self.echo.payload(now), 0)
        is_alive = self.alive()
        if is_alive != self._was_alive:
            self._was_alive = is_alive
            self._out(EchoItem(is_alive, self.echo.age_s(now), now))

    def farewell(self, post: Post) -> bool:
        """An orderly hang-up sends no will, so its message is sent by hand."""
        if not self._said_farewell:
            self._said_farewell = True
            self._sender.send(post, self._topics.alive, b"0", 1, retain=True)
        return self._sender.outbox.is_settled

    def _log_once(self, item: Item) -> None:
        if isinstance(item, SampleItem):
            if self._told:
                self._told = {entry for entry in self._told if entry[0] != item.sample.signal}
        elif isinstance(item, DropItem):
            entry = (str(item.drop.signal), str(item.drop.why))
            if entry not in self._told and len(self._told) < _TOLD_MAX:
                self._told.add(entry)
                _log.warning("%s", drop_words(item.drop, item.topic))
