"""What a decision does to the world, in the one order that is safe.

1 OFFs on the wire; 2 one transaction with snapshot, debits, durable state, events; 3 ONs, only if 2 holds; 4 everything else.
Debit before dose: a crash between any two lines can over-count what was fed, never under-count it. The names in CRASH_POINTS
stand between the lines; tests kill the process at each.
"""

import logging
import os
import signal
from typing import Protocol

from dosectl.core.controller.decision import Decision
from dosectl.core.controller.state import State
from dosectl.daemon.record import Recorder
from dosectl.model.feeds import FeedOff, FeedOn
from dosectl.model.snapshot import Snapshot
from dosectl.store.faults import JournalError, NewStartNeeded

CRASH_POINTS = ("decided", "off_sent", "committed", "on_sent", "told", "draining", "closed")
CRASH_ENV = "DOSECTL_CRASH_AT"
"""`point:count`: kill this process with SIGKILL at the count-th feed that passes the point. For tests only."""

log = logging.getLogger("dosectl.effects")


class FeedSink(Protocol):
    """Where commands go. A dry run gets a sink that has no way to send an ON."""

    def off(self, command: FeedOff) -> None: ...

    def on(self, command: FeedOn) -> bool: ...


class Teller(Protocol):
    """Everything that is not a feed: replies, alarms, the state view."""

    def tell(self, state: State, decision: Decision) -> None: ...


class DrySink:
    """Commands nothing, ever. The decision and the record say what would have been fed."""

    def off(self, command: FeedOff) -> None:  # noqa: ARG002 - the shape of a sink
        return

    def on(self, command: FeedOn) -> bool:  # noqa: ARG002 - the shape of a sink
        return False


class Effects:
    """Carries out decisions. `journal_ok` is evidence for the next step; `start_anew` : only a new start mends the record."""

    def __init__(self, sink: FeedSink, recorder: Recorder, teller: Teller) -> None:
        self._sink = sink
        self._recorder = recorder
        self._teller = teller
        self._crash = _CrashPlan(os.environ.get(CRASH_ENV, ""))
        self.journal_ok = True
        self.journal_error: str | None = None
        self.start_anew = False

    def carry_out(self, after: State, decision: Decision, snapshot: Snapshot) -> None:
        """All effects of one step, in order."""
        feeding = any(isinstance(command, FeedOn) for command in decision.commands)
        self._crash.pass_point("decided", feeding)
        for command in decision.commands:
            if isinstance(command, FeedOff) and command.repeat:
                self._sink.off(command)
        self._crash.pass_point("off_sent", feeding)
        committed = self._commit(after, decision, snapshot)
        self._crash.pass_point("committed", feeding)
        if committed:
            for command in decision.commands:
                if isinstance(command, FeedOn) and command.send:
                    self._sink.on(command)
        self._crash.pass_point("on_sent", feeding)
        self._teller.tell(after, decision)
        self._crash.pass_point("told", feeding)

    def _commit(self, after: State, decision: Decision, snapshot: Snapshot) -> bool:
        """Whether the record holds. A failure is said once, and so is its end."""
        try:
            self._recorder.record(after, decision, snapshot)
        except JournalError as error:
            if self.journal_ok:
                log.error("the record can't be written, so nothing is fed: %s", error)
            self.journal_ok, self.journal_error = False, str(error)
            self.start_anew = isinstance(error, NewStartNeeded)
            return False
        if not self.journal_ok:
            log.warning("the record can be written again")
        self.journal_ok, self.journal_error, self.start_anew = True, None, False
        return True

    def crash_point(self, name: str) -> None:
        """For points outside a step (draining, closed)."""
        self._crash.pass_point(name, True)


class _CrashPlan:
    """Kills this process at a named point, where the environment asks for it."""

    def __init__(self, text: str) -> None:
        point, _, count = text.partition(":")
        self._point = point if point in CRASH_POINTS else None
        self._left = int(count) if count.isdigit() else 1

    def pass_point(self, name: str, feeding: bool) -> None:
        if self._point != name or not feeding:
            return
        self._left -= 1
        if self._left <= 0:
            os.kill(os.getpid(), signal.SIGKILL)
