"""The outside watcher hears from us after whole good steps only: its alarm is our silence.

The core's last act offers a beat; a thread does the sending. A beat that is not offered is never sent, so a hung core is silent.
"""

import json
import logging
import threading
import time
import urllib.error
import urllib.parse
import urllib.request
from collections.abc import Callable, Mapping

from dosectl.model.reasons import Code
from dosectl.settings.notify import WatcherSettings

HEARTBEAT_FAILING = Code("notify.heartbeat_failing")
UNSENT_S_MAX = 900.0
"""With an alarm unsent for so long we are not well: the beat is left out, and the watcher calls by its own way."""
TIMEOUT_S = 15.0
FAILS = 3
RETRY_S = 30.0

log = logging.getLogger("dosectl.heartbeat")


class Heartbeat:
    """`offer` it after each whole good step whose record holds."""

    def __init__(self, settings: WatcherSettings, now_s: Callable[[], float] = time.monotonic) -> None:
        self._settings = settings
        self._now_s = now_s
        self._due_s = now_s()
        self._failures = 0
        self._thread: threading.Thread | None = None

    def offer(self, figures: Callable[[], Mapping[str, float | None]], oldest_unsent_s: float) -> None:
        """Sends where it is due and all is well. Returns at once. figures : asked only where a beat goes out."""
        if self._now_s() < self._due_s or oldest_unsent_s > UNSENT_S_MAX:
            return
        if self._thread is not None and self._thread.is_alive():
            return
        self._due_s = self._now_s() + self._settings.period_s
        body = {**figures(), "oldest_unsent_alarm_s": round(oldest_unsent_s)}
        self._thread = threading.Thread(target=self._send, args=(body,), name="heartbeat", daemon=True)
        self._thread.start()

    def faults(self) -> tuple[Code, ...]:
        """Evidence for the step: the watcher has not been reached several times in a row."""
        return (HEARTBEAT_FAILING,) if self._failures >= FAILS else ()

    def stop(self) -> None:
        """Waits a little for a beat under way."""
        if self._thread is not None:
            self._thread.join(timeout=1.0)

    def _send(self, body: Mapping[str, float | None]) -> None:
        url, data = self._settings.url, None
        if self._settings.post:
            data = json.dumps(body).encode()
        else:
            query = urllib.parse.urlencode({name: value for name, value in body.items() if value is not None})
            url += ("&" if "?" in url else "?") + query
        request = urllib.request.Request(url, data=data, headers={"Content-Type": "application/json"} if data else {})
        try:
            with urllib.request.urlopen(request, timeout=TIMEOUT_S) as answer:
                answer.read(1000)
        except (OSError, ValueError, urllib.error.URLError) as error:
            self._failures += 1
            self._due_s = self._now_s() + min(RETRY_S, self._settings.period_s)
            # Not the error's text: it may hold the address, which is a secret.
            log.warning("the outside watcher was not reached (%s)", type(error).__name__)
            return
        self._failures = 0
