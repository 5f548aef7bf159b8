"""The bounded queue between the threads that listen and the one core thread, and what it lost to its bound."""

import queue
import threading
import time
from dataclasses import dataclass

from dosectl.bus.items import Item, SampleItem


@dataclass(frozen=True, slots=True)
class Signalled:
    """Something the process itself wants of the core: `stop`, `reload`, or calendar work by its name."""

    what: str


Queued = Item | Signalled


class Inbox:
    """Threads put, the core takes. Putting never blocks: a full queue drops samples and counts them, never anything else."""

    def __init__(self, bound: int = 20_000) -> None:
        self._queue: queue.SimpleQueue[tuple[float, Queued]] = queue.SimpleQueue()
        self._bound = bound
        self._lock = threading.Lock()
        self._dropped = 0
        self.oldest_age_s = 0.0

    def put(self, item: Queued) -> None:
        """Adds an item. A sample beyond the bound is counted and lost; nothing else is ever dropped."""
        if isinstance(item, SampleItem) and self._queue.qsize() >= self._bound:
            with self._lock:
                self._dropped += 1
            return
        self._queue.put((time.monotonic(), item))

    def take(self, timeout_s: float) -> list[Queued]:
        """Everything that waits, after waiting at most `timeout_s` for the first. `oldest_age_s` is how long the first waited."""
        items: list[Queued] = []
        try:
            put_at, first = self._queue.get(timeout=max(0.0, timeout_s)) if timeout_s > 0 else self._queue.get_nowait()
        except queue.Empty:
            self.oldest_age_s = 0.0
            return items
        self.oldest_age_s = time.monotonic() - put_at
        items.append(first)
        while True:
            try:
                items.append(self._queue.get_nowait()[1])
            except queue.Empty:
                return items

    def take_dropped(self) -> int:
        """Samples lost since the last asking."""
        with self._lock:
            dropped, self._dropped = self._dropped, 0
        return dropped
