"""What we published: newest retained state, OFFs that no broker has confirmed, and acknowledgements still to come."""

import threading
from collections import OrderedDict
from dataclasses import dataclass

from dosectl.bus.commands import Message
from dosectl.model.feeds import FeederId

# paho sends at most 20 messages unacknowledged and holds back the rest; an ON must never be among those.
UNACKED_MAX = 12
_EARLY_MAX = 64


@dataclass(frozen=True, slots=True)
class Acked:
    """The broker's answer to one message: its topic, and the refusal's text or None."""

    topic: str
    refusal: str | None


class Outbox:
    """Kept by the daemon's thread and paho's; no lock is held while paho is called, for paho answers under locks of its own."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._retained: dict[str, bytes] = {}
        self._offs: OrderedDict[FeederId, Message] = OrderedDict()
        self._unacked: dict[int, tuple[str, Message | None]] = {}
        self._early: OrderedDict[int, str | None] = OrderedDict()

    def keep_retained(self, topic: str, payload: bytes) -> None:
        """The newest state of a topic, to be published again on every new connection."""
        with self._lock:
            self._retained[topic] = payload

    def retained(self) -> tuple[tuple[str, bytes], ...]:
        """All of it."""
        with self._lock:
            return tuple(self._retained.items())

    def want_off(self, message: Message) -> None:
        """The feeder shall be off; held until a broker has acknowledged it or an ON follows."""
        with self._lock:
            self._offs[message.feeder] = message

    def want_on(self, feeder: FeederId) -> None:
        """The OFF before is past."""
        with self._lock:
            self._offs.pop(feeder, None)

    def offs(self) -> tuple[Message, ...]:
        """OFFs that may not have arrived."""
        with self._lock:
            return tuple(self._offs.values())

    def went_out(self, mid: int, topic: str, off: Message | None = None) -> Acked | None:
        """A message of QoS 1 was handed to paho under this number; the answer, where it has come already."""
        with self._lock:
            if mid in self._early:
                return self._settle(topic, off, self._early.pop(mid))
            self._unacked[mid] = (topic, off)
            return None

    def acked(self, mid: int, refusal: str | None) -> Acked | None:
        """The broker's answer; None where the sender's thread has not come to `went_out` yet (it then gets the answer)."""
        with self._lock:
            known = self._unacked.pop(mid, None)
            if known is not None:
                return self._settle(known[0], known[1], refusal)
            self._early[mid] = refusal
            while len(self._early) > _EARLY_MAX:
                self._early.popitem(last=False)
            return None

    def _settle(self, topic: str, off: Message | None, refusal: str | None) -> Acked:
        if off is not None and refusal is None and self._offs.get(off.feeder) is off:
            del self._offs[off.feeder]
        return Acked(topic, refusal)

    @property
    def is_full(self) -> bool:
        """So many answers are outstanding that the next message might wait inside paho."""
        with self._lock:
            return len(self._unacked) >= UNACKED_MAX

    @property
    def is_settled(self) -> bool:
        """Nothing is outstanding."""
        with self._lock:
            return not self._unacked

    def new_connection(self) -> None:
        """Numbers of the connection before mean nothing now."""
        with self._lock:
            self._unacked.clear()
            self._early.clear()
