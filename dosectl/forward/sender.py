"""The forwarder's thread: read after the cursor, write, move the cursor; wait where the server is away; never lose or stop.

A record is sent again where its answer was lost; its time is its key, so the server then holds it once (VictoriaMetrics with
`-dedup.minScrapeInterval=1ms`).
"""

import logging
import random
import threading
from collections.abc import Callable
from datetime import UTC, datetime

from dosectl.forward.cursor import Outbox
from dosectl.forward.lines import LineEncoder
from dosectl.forward.writer import TIMEOUT_S, LineWriter, NotTaken
from dosectl.settings.broker import ForwardSettings

BATCH_ROWS = 5000
IDLE_S = 5.0
FIRST_WAIT_S = 1.0
LONGEST_WAIT_S = 300.0
REFUSED_WAIT_S = 300.0
REJECTS_MAX = 20
"""After so many refusals without a row taken another row is tried: if that is refused too, the server refuses all, so wait."""
REFUSED = "forward.refused"
"""Fault code: the address, the token or the bucket is wrong; a person must look."""

_LOG = logging.getLogger(__name__)
_BAD_ROW = frozenset({400, 422})
_TOO_LARGE = 413
_WAIT = frozenset({408, 425, 429})

Lines = list[tuple[int, str | None]]


class Forwarder:
    """Start it once; ask it from any thread for its backlog and its fault."""

    def __init__(
        self,
        settings: ForwardSettings,
        open_outbox: Callable[[], Outbox],
        outbox_errors: tuple[type[Exception], ...] = (),
        *,
        timeout_s: float = TIMEOUT_S,
        now: Callable[[], datetime] = lambda: datetime.now(UTC),
        chance: random.Random | None = None,
    ) -> None:
        """open_outbox : called in the thread; outbox_errors : what it may raise that a later try can mend (a full disk)."""
        self._settings = settings
        self._open_outbox = open_outbox
        self._outbox_errors = outbox_errors
        self._timeout_s = timeout_s
        self._now = now
        self._chance = chance or random.Random()
        self._stopping = threading.Event()
        self._thread: threading.Thread | None = None
        self._oldest: datetime | None = None
        self._said = ""
        self.sending = Sending(self._now)

    @property
    def fault(self) -> str | None:
        """REFUSED while the server refuses us as such; None otherwise, also while it is away."""
        return REFUSED if self.sending.refused else None

    @property
    def alive(self) -> bool:
        """The thread runs."""
        return self._thread is not None and self._thread.is_alive()

    def backlog_s(self) -> float:
        """Age of the oldest record that the server has not got [s], 0 where it has all."""
        oldest = self._oldest
        return 0.0 if oldest is None else max((self._now() - oldest).total_seconds(), 0.0)

    def start(self) -> None:
        """Starts the thread."""
        self._thread = threading.Thread(target=self._run, name="forward", daemon=True)
        self._thread.start()

    def stop(self, wait_s: float = 2.0) -> None:
        """Ends the thread; what was not sent stays in the journal. Waits at most `wait_s` for a request under way."""
        self._stopping.set()
        if self._thread is not None:
            self._thread.join(wait_s)

    def _run(self) -> None:
        writer = LineWriter(self._settings, self._timeout_s)
        try:
            while not self._stopping.is_set():
                wait_s = self._round(writer)
                self._stopping.wait(wait_s)
        finally:
            writer.close()

    def _round(self, writer: LineWriter) -> float:
        """One opening of the outbox, until there is something to wait for; says how long."""
        try:
            outbox = self._open_outbox()
            try:
                self._oldest = outbox.oldest_utc()
                encoder = LineEncoder(outbox.kinds())
                wait_s = 0.0
                while wait_s == 0.0 and not self._stopping.is_set():
                    wait_s = self.sending.batch(outbox, writer, encoder, self._chance)
                    self._oldest = outbox.oldest_utc()
            finally:
                outbox.close()
        except self._outbox_errors as error:
            self._say(f"forwarding waits: {error}")
            return LONGEST_WAIT_S / 10
        self._say(self.sending.trouble)
        return wait_s

    def _say(self, text: str) -> None:
        """Logs a change of state once, not each try."""
        if text != self._said:
            self._said = text
            if text:
                _LOG.warning("%s", text)
            else:
                _LOG.info("forwarding works again")


class Sending:
    """What the server's answers have led to so far: how long to wait, whether it refuses us."""

    def __init__(self, now: Callable[[], datetime]) -> None:
        """now : aware UTC, for Retry-After dates and the times of rejects."""
        self._now = now
        self._failures = 0
        self._rejects = 0
        self._probe = ""
        self.refused = False
        self.trouble = ""

    def batch(self, outbox: Outbox, writer: LineWriter, encoder: LineEncoder, chance: random.Random) -> float:
        """Sends the oldest rows. Seconds to wait before the next call: 0 where more waits and the server takes it."""
        rows = outbox.pending(BATCH_ROWS)
        if not rows:
            return IDLE_S
        lines: Lines = [(row_id, encoder.line(point)) for row_id, point in rows]
        learned = encoder.take_learned()
        if learned:
            outbox.learn_kinds(learned)
        self._probe = next((line for _, line in reversed(lines) if line is not None), "")
        try:
            self._send(outbox, writer, lines)
        except NotTaken as answer:
            self.trouble = answer.text
            return self._wait_s(answer, chance)
        self._failures = 0
        self.refused = False
        self.trouble = ""
        return 0.0 if len(rows) == BATCH_ROWS else IDLE_S

    def _send(self, outbox: Outbox, writer: LineWriter, lines: Lines) -> None:
        """All lines in order; the cursor follows. Halves where the server finds a row bad or the whole too large."""
        texts = [line for _, line in lines if line is not None]
        try:
            if texts:
                writer.write(texts, self._now())
        except NotTaken as answer:
            if answer.status not in _BAD_ROW and answer.status != _TOO_LARGE:
                raise
            if len(texts) == 1:
                self._reject(outbox, writer, lines, answer)
                return
            half = len(lines) // 2
            self._send(outbox, writer, lines[:half])
            self._send(outbox, writer, lines[half:])
            return
        if texts:
            self._rejects = 0
        outbox.advance(lines[-1][0])

    def _reject(self, outbox: Outbox, writer: LineWriter, lines: Lines, answer: NotTaken) -> None:
        if self._rejects >= REJECTS_MAX:
            self._ask_whether_any_row_is_taken(writer, answer)
        self._rejects += 1
        for row_id, line in lines:
            if line is not None:
                outbox.reject(row_id, line, answer.text, self._now())
                _LOG.warning("a record was refused by the time-series server and set aside: %s", answer.text)
        outbox.advance(lines[-1][0])

    def _ask_whether_any_row_is_taken(self, writer: LineWriter, answer: NotTaken) -> None:
        """Tries the newest row of the batch (sent again, it overwrites itself). Raises NotTaken where that is refused too."""
        try:
            writer.write([self._probe], self._now())
        except NotTaken:
            raise NotTaken(401, f"{answer.text}; so many in a row that nothing more is set aside") from answer
        self._rejects = 0

    def _wait_s(self, answer: NotTaken, chance: random.Random) -> float:
        status = answer.status
        if status is None or status >= 500 or status in _WAIT:
            self.refused = False
            base_s = min(FIRST_WAIT_S * 2.0 ** min(self._failures, 20), LONGEST_WAIT_S)
            self._failures += 1
            asked_s = answer.retry_after_s or 0.0
            return max(base_s, asked_s) * (1.0 + 0.2 * chance.random())  # never sooner than asked; many pools never in step
        self.refused = True
        return REFUSED_WAIT_S * (1.0 + 0.2 * chance.random())
