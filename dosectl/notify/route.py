"""One route: hands one message over through the notification library, in a thread of its own: a slow one holds up nobody."""

import logging
import threading
from collections.abc import Callable
from typing import Protocol

FIRST_WAIT_S = 5.0
LONGEST_WAIT_S = 300.0
FAILS = 3
"""So many failures one after another make a route an alarm of its own; so many deadlines, and a try that hangs is given up."""
GIVEN_UP_MAX = 5
"""So many tries that hang may be left behind: each is a thread, and a route that never ends any must not fill the machine."""

_LOG = logging.getLogger("dosectl.notify")


class Sender(Protocol):
    """Hands a message over. True: it was taken, which is not yet heard. May block and may raise."""

    def __call__(self, title: str, body: str, priority: int) -> bool: ...


def library_sender(url: str) -> Sender:
    """Through apprise, imported at the first message: it is large, and most processes never call anybody."""

    def send(title: str, body: str, priority: int) -> bool:
        import apprise

        logging.getLogger("apprise").setLevel(logging.CRITICAL)  # its lines hold addresses with their tokens
        kinds = {4: apprise.NotifyType.FAILURE, 3: apprise.NotifyType.WARNING}
        target = apprise.Apprise()
        if not target.add(url):
            return False
        kind = kinds.get(priority, apprise.NotifyType.INFO)
        return bool(target.notify(title=title, body=body, notify_type=kind, body_format=apprise.NotifyFormat.TEXT))

    return send


def library_takes(url: str) -> bool:
    """Whether the library knows what to do with an address; nothing is sent."""
    import apprise

    logging.getLogger("apprise").setLevel(logging.CRITICAL)
    return apprise.Apprise.instantiate(url) is not None


class Route:
    """A route and how it has fared. `now_s` is monotonic time [s]; `done` is called from its thread with (message, taken)."""

    def __init__(
        self, key: str, send: Sender, done: Callable[[str, bool], None], now_s: Callable[[], float], deadline_s: float = 45.0
    ) -> None:
        self.key = key
        self.failures = 0
        self._send = send
        self._done = done
        self._now_s = now_s
        self._deadline_s = deadline_s
        self._free_at_s = 0.0
        self._begun_s: float | None = None
        self._deadlines = 0
        self._message = ""
        self._given_up: set[str] = set()
        self._lock = threading.Lock()

    @property
    def failing(self) -> bool:
        """It has failed so often in a row that somebody must look."""
        return self.failures >= FAILS

    def ready(self) -> bool:
        """It may be tried now: nothing is under way and its waiting after a failure is over. Notices a try that hangs.

        Each deadline that passes counts as a failure. A receiver that sends a byte now and then never lets the library time out,
        so after the third the try is given up; should it end well after all, that is written down as any other end.
        """
        given_up = ""
        with self._lock:
            if self._begun_s is None:
                return self._now_s() >= self._free_at_s
            if self._now_s() - self._begun_s >= self._deadline_s * (self._deadlines + 1):
                self._deadlines += 1
                self._failed()
                if self._deadlines >= FAILS and len(self._given_up) < GIVEN_UP_MAX:
                    given_up, self._begun_s = self._message, None
                    self._given_up.add(given_up)
        if given_up:
            self._done(given_up, False)
        return False

    def start(self, message: str, title: str, body: str, priority: int) -> None:
        """Tries in a thread. Only when `ready`."""
        with self._lock:
            self._begun_s, self._deadlines, self._message = self._now_s(), 0, message
        args = (message, title, body, priority)
        threading.Thread(target=self._run, args=args, name=f"call-{self.key}", daemon=True).start()

    def _run(self, message: str, title: str, body: str, priority: int) -> None:
        try:
            taken = self._send(title, body, priority)
        except Exception as error:  # noqa: BLE001 - a library of many services raises many kinds; all mean "not taken"
            _LOG.warning("route %s: %s", self.key, type(error).__name__)
            taken = False
        with self._lock:
            late = message in self._given_up
            self._given_up.discard(message)
        if taken or not late:  # of one that was given up "not taken" is on record already
            self._done(message, taken)
        if late:
            return
        with self._lock:
            if taken:
                if self.failures:
                    _LOG.info("route %s works again", self.key)
                self.failures, self._free_at_s = 0, 0.0
            elif not self._deadlines:
                self._failed()
            self._begun_s = None

    def _failed(self) -> None:
        """Waits 5 s, 10 s, ... up to 5 min. Called with the lock held."""
        self.failures += 1
        self._free_at_s = self._now_s() + min(FIRST_WAIT_S * 2.0 ** min(self.failures - 1, 10), LONGEST_WAIT_S)
        if self.failures == FAILS:
            _LOG.warning("route %s has failed %d times in a row", self.key, FAILS)
