"""The caller's thread: looks at the outbox, hands messages to routes, writes down what became of them.

The order is fixed: the try is on the disk before it is made, its end after. At least once: a try whose end is not known is made
again, with the same reference and a word that it may be a repeat.
"""

import logging
import queue
import secrets
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta, tzinfo

from dosectl.model.call_log import Attempt, OpenCall, Outcome, by_way
from dosectl.model.calls import SINCE
from dosectl.model.reasons import Code
from dosectl.notify.due import CRITICAL, LINE, ONCE, OVER, TEST, Due, dues, route_key
from dosectl.notify.outbox import OpenOutbox, Outbox
from dosectl.notify.route import Route, Sender, library_sender
from dosectl.settings.notify import NotifySettings, Person
from dosectl.texts.calls import Reader, Told, call_text, many_text
from dosectl.texts.languages import translated

ROUTE_FAILING = Code("notify.route_failing")
TEST_UNANSWERED = Code("notify.test_unanswered")
CALLER_FAILING = Code("notify.caller_failing")
TEST_WITHIN = timedelta(days=7)
MESSAGES_MAX = 4
WINDOW = timedelta(minutes=15)
LOOK_S = 1.0
LETTERS = "ABCDEFGHJKMNPQRSTUVWXYZ23456789"
CODE_LETTERS = 8
MAYBE_AGAIN = "(may be a repeat)"

log = logging.getLogger("dosectl.notify")


def fresh_word() -> str:
    """A code that nobody guesses and that can be read out on the telephone."""
    return "".join(secrets.choice(LETTERS) for _ in range(CODE_LETTERS))


@dataclass(frozen=True, slots=True)
class Surroundings:
    """What the caller needs besides its settings, so that tests run it with clocks of their own.

    now : aware UTC; now_s : monotonic [s]; sender : a route's address to what sends; point : passed between every two steps
    errors : what the outbox may raise that a later try can mend
    away : the owner is away, so that the second person is called sooner
    """

    now: Callable[[], datetime] = lambda: datetime.now(UTC)
    now_s: Callable[[], float] = time.monotonic
    sender: Callable[[str], Sender] = library_sender
    point: Callable[[str], None] = lambda _name: None
    away: Callable[[], bool] = lambda: False
    errors: tuple[type[Exception], ...] = ()


class Caller:
    """Start it once. `faults` and `oldest_unsent_s` may be asked from any thread."""

    def __init__(
        self, open_outbox: OpenOutbox, settings: NotifySettings, pool: str, zone: tzinfo, surroundings: Surroundings | None = None
    ) -> None:
        """open_outbox : called in the thread; pool : its name for people."""
        self._open_outbox = open_outbox
        self._persons = settings.persons
        self._pool = pool
        self._zone = zone
        self._around = surroundings or Surroundings()
        self._ends: queue.SimpleQueue[tuple[str, bool]] = queue.SimpleQueue()
        self._wake = threading.Event()
        self._stopping = threading.Event()
        self._thread: threading.Thread | None = None
        self._oldest: datetime | None = None
        self._test_overdue = False
        self._looked_s: float | None = None
        self._broken = False
        self._flying: dict[str, str] = {}
        self.routes = {
            route_key(person, address): Route(
                route_key(person, address), self._around.sender(address.url), self._end, self._around.now_s
            )
            for person in self._persons
            for address in (*person.routes, *person.urgent_routes)
        }

    def start(self) -> None:
        """Starts the thread."""
        self._looked_s = self._around.now_s()
        self._thread = threading.Thread(target=self._run, name="caller", daemon=True)
        self._thread.start()

    def stop(self, wait_s: float = 2.0) -> None:
        """Ends the thread; what was not sent stays in the journal."""
        self._stopping.set()
        self._wake.set()
        if self._thread is not None:
            self._thread.join(wait_s)

    def wake(self) -> None:
        """Something was put out."""
        self._wake.set()

    def faults(self) -> tuple[Code, ...]:
        """Evidence for the step: a route failed several times in a row, nobody answered the newest test, or we fail ourselves."""
        failing = (ROUTE_FAILING,) if any(route.failing for route in self.routes.values()) else ()
        broken = (CALLER_FAILING,) if self._broken else ()
        return (*failing, *((TEST_UNANSWERED,) if self._test_overdue else ()), *broken)

    def oldest_unsent_s(self) -> float:
        """Age of the oldest call that no route has taken though it was due [s], 0 where there is none.

        Where nobody has looked for longer than that, so long: what is due then is not known, and the watcher must hear of it.
        """
        oldest, looked_s = self._oldest, self._looked_s
        unsent_s = 0.0 if oldest is None else (self._around.now() - oldest).total_seconds()
        unseen_s = 0.0 if looked_s is None else self._around.now_s() - looked_s
        return max(unsent_s, unseen_s, 0.0)

    def _end(self, message: str, taken: bool) -> None:
        self._around.point("sent")
        self._ends.put((message, taken))
        self._wake.set()

    def _run(self) -> None:
        said = False
        while not self._stopping.is_set():
            try:
                outbox = self._open_outbox()
                try:
                    while not self._stopping.is_set():
                        self.round(outbox)
                        self._looked_s = self._around.now_s()
                        said = self._broken = False
                        self._wake.wait(LOOK_S)
                        self._wake.clear()
                finally:
                    outbox.close()
            except self._around.errors as error:
                if not said:
                    log.warning("calls wait: %s", error)
                said = True
                self._stopping.wait(5 * LOOK_S)
            except Exception:  # a thread that ended would call nobody any more, and nobody would know
                if not said:
                    log.exception("calling fails by a defect; it is tried again")
                said = self._broken = True
                self._stopping.wait(5 * LOOK_S)

    def round(self, outbox: Outbox) -> None:
        """One look: ends of tries, calls that are over, and what is due now."""
        self._take_ends(outbox)
        now = self._around.now()
        calls, attempts = outbox.open_calls(), outbox.attempts(now - WINDOW)
        failing = frozenset(key for key, route in self.routes.items() if route.failing)
        due, closing = dues(calls, attempts, self._persons, now, self._zone, away=self._around.away(), failing=failing)
        for item in closing:
            outbox.close_call(item.call.id, item.why, now)
            self._around.point("closed")
            log.info("call %s: %s", item.call.key, item.why)
        test = outbox.newest(TEST)
        self._test_overdue = test is not None and test[1] is None and now - test[0] >= TEST_WITHIN
        reached = {item.call_id for item in attempts if item.outcome is Outcome.TAKEN}
        self._oldest = min((item.call.at for item in due if item.call.id not in reached), default=None)
        for person in self._persons:
            for address in (*person.routes, *person.urgent_routes):
                route = self.routes[route_key(person, address)]
                mine = [item for item in due if item.person is person and item.route == address]
                # In the air until its end is written: else a try that has just ended would look like one cut off.
                if mine and route.ready() and route.key not in self._flying:
                    self._send(outbox, route, person, address.name, mine, attempts, now)

    def _take_ends(self, outbox: Outbox) -> None:
        while True:
            try:
                message, taken = self._ends.get_nowait()
            except queue.Empty:
                return
            self._flying = {key: other for key, other in self._flying.items() if other != message}
            outbox.end(message, Outcome.TAKEN if taken else Outcome.FAILED, self._around.now())
            self._around.point("ended")

    def _send(
        self,
        outbox: Outbox,
        route: Route,
        person: Person,
        name: str,
        mine: list[Due],
        attempts: tuple[Attempt, ...],
        now: datetime,
    ) -> None:
        """One message over one route: the first that is due, or all of them in one where the route has carried enough."""
        ours = [item for item in attempts if item.person == person.id and item.route == name]
        lately = {item.message for item in ours if item.outcome is not Outcome.FAILED and now - item.begun < WINDOW}
        gravest = [item for item in mine if item.call.priority >= CRITICAL and item.call.change != LINE]
        if len(lately) >= MESSAGES_MAX and not gravest:
            return
        digest = [item for item in mine if item.call.priority == 1 and item.call.change != LINE]
        if gravest:  # waits behind nothing, and goes alone: its text must be the first that is read
            chosen = gravest[:1]
        elif len(lately) == MESSAGES_MAX - 1 and len(mine) > 1:
            # A test must come with its code, and a line with its figures: both go by themselves, later.
            chosen = [item for item in mine if item.call.change not in (TEST, *ONCE)] or mine[:1]
        elif mine[0].call.priority == 1 and len(digest) > 1:
            chosen = digest
        else:
            chosen = mine[:1]
        reader = Reader(person.language, person.knows_pool, self._zone, self._pool)
        told = tuple(_told(item) for item in chosen)
        if len(chosen) == 1:
            if chosen[0].step != OVER and chosen[0].call.change not in ONCE:
                # The code of a test tells by which way it came: else one way that works would vouch for one that swallows all.
                whose = by_way(person.id, name) if chosen[0].call.change == TEST else person.id
                word = outbox.word_for(chosen[0].call.id, whose, fresh_word(), now)
                reader = Reader(person.language, person.knows_pool, self._zone, self._pool, word)
            title, body = call_text(told[0], reader, now)
        else:
            title, body = many_text(told, reader)
        steps = [(item.call.id, item.step) for item in chosen]
        unsure = any((item.call_id, item.step) in steps and item.outcome is Outcome.UNKNOWN for item in ours)
        message = secrets.token_hex(8)
        outbox.begin(steps, person.id, name, message, now)
        self._around.point("begun")
        self._flying[route.key] = message
        reference = " ".join(f"#{item.call.key}/{'over' if item.step == OVER else item.step}" for item in chosen)
        tail = f"{translated(MAYBE_AGAIN, person.language)} {reference}" if unsure else reference
        route.start(message, title, f"{body}\n{tail}", max(item.call.priority for item in chosen))


def _since(call: OpenCall) -> datetime:
    """When the trouble began: of a rise or a reminder that is earlier than the call."""
    begun = dict(call.facts).get(SINCE) if call.change != LINE else None
    return datetime.fromisoformat(str(begun)) if begun is not None else call.at


def _told(item: Due) -> Told:
    call: OpenCall = item.call
    return Told(
        code=call.code,
        priority=call.priority,
        since=_since(call),
        until=call.cleared if item.step == OVER else None,
        again=item.step > 0 or call.change == "again",
        folded=call.folded,
        test=call.change == TEST,
        line=call.facts if call.change == LINE else None,
    )
