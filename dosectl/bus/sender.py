"""Publishing with its book-keeping: which answer belongs to what, and what the broker forbids."""

import logging
from collections.abc import Callable

from dosectl.bus import faults
from dosectl.bus.commands import Message
from dosectl.bus.keeper import Post, Stamp
from dosectl.bus.outbox import Acked, Outbox

_log = logging.getLogger("dosectl.bus")


class Sender:
    """One for all threads that send. `note_own` is told of every message before it leaves."""

    def __init__(self, note_own: Callable[[str, bytes], None], standing: faults.Faults, stamp: Stamp) -> None:
        self.outbox = Outbox()
        self._note_own = note_own
        self._faults = standing
        self._stamp = stamp
        self._forbidden: set[str] = set()

    def send(
        self,
        post: Post,
        topic: str,
        payload: bytes,
        qos: int,
        *,
        retain: bool = False,
        expires_s: int | None = None,
        off: Message | None = None,
    ) -> bool:
        """True when it left; of QoS 1 the broker's answer is awaited and judged."""
        self._note_own(topic, payload)
        mid = post(topic, payload, qos, retain=retain, expires_s=expires_s)
        if mid:
            self._judge(self.outbox.went_out(mid, topic, off))
        return mid is not None

    def acked(self, mid: int, refusal: str | None) -> None:
        """The broker's answer came. A forbidden publish is told here and nowhere else, and only of QoS 1 in MQTT 5."""
        self._judge(self.outbox.acked(mid, refusal))

    def _judge(self, acked: Acked | None) -> None:
        if acked is None:
            return
        if acked.refusal is not None:
            if acked.topic not in self._forbidden:
                _log.error("the broker refused a message on %s: %s", acked.topic, acked.refusal)
            self._forbidden.add(acked.topic)
            self._faults.stand(faults.FORBIDDEN, self._stamp(), topic=acked.topic, text=acked.refusal)
        elif acked.topic in self._forbidden:
            self._forbidden.discard(acked.topic)
            if not self._forbidden:
                self._faults.lift(faults.FORBIDDEN)
