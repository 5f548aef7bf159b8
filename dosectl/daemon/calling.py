"""Joins calls, answers by code and the outside watcher with the daemon. Nothing here can start or stop a feed."""

from collections.abc import Mapping
from datetime import datetime, timedelta, tzinfo
from pathlib import Path

from dosectl.bus.items import Item, RefusedItem, RequestItem
from dosectl.core.controller.decision import Decision
from dosectl.daemon.clock import Clock
from dosectl.model.absences import Absence, lasting
from dosectl.model.feeds import Substance
from dosectl.model.reasons import Code, Facts
from dosectl.notify.answers import resolve
from dosectl.notify.caller import Caller, Surroundings
from dosectl.notify.due import LINE, TEST
from dosectl.notify.heartbeat import Heartbeat
from dosectl.settings.load import Loaded
from dosectl.store.call_outbox import CallOutbox
from dosectl.store.faults import JournalError
from dosectl.texts.render import Texts

TEST_CODE = "notify.test"
MONTH = timedelta(days=31)


def named(item: Item, path: Path, now: datetime) -> tuple[Item, ...]:
    """A request as the step can judge it: an answer by code becomes one that names its occurrence, or is refused with words.

    The code of a flood's summary becomes one for each alarm that the summary stands for.
    """
    if not isinstance(item, RequestItem):
        return (item,)
    settled = resolve(lambda: CallOutbox(path), (JournalError,), item.request, now)
    if settled.request is not None:
        if settled.request is item.request:
            return (item,)
        return tuple(RequestItem(one, item.account, item.place, item.at) for one in (settled.request, *settled.more))
    assert settled.reply is not None
    return (RefusedItem(settled.reply, item.account, settled.words, item.at),)


def put_test(path: Path, now: datetime, occurrence: int) -> bool:
    """Puts a test of the whole chain out, to be answered with its code. False where this one was out already."""
    with CallOutbox(path) as outbox:
        return outbox.put(f"{TEST_CODE}:{occurrence}", now, TEST_CODE, occurrence, 2, TEST, ())


def put_monthly(path: Path, now: datetime, zone: tzinfo) -> bool:
    """The month's test, asked for each day: on the first, or later where the last one is older than a month. True: it is out."""
    with CallOutbox(path) as outbox:
        last = outbox.newest(TEST)
    late = last is not None and now - last[0] > MONTH
    return (late or now.astimezone(zone).day == 1) and put_test(path, now, now.year * 100 + now.month)


def put_line(path: Path, key: str, now: datetime, code: Code, facts: Facts) -> bool:
    """Puts a message out that nobody need answer. False where this one was out already."""
    with CallOutbox(path) as outbox:
        return outbox.put(key, now, code, 0, 1, LINE, facts)


class Calling:
    """What runs where [notify] is set. `line` puts a message out that nobody need answer."""

    def __init__(self, loaded: Loaded, path: Path, clock: Clock, texts: Texts) -> None:
        self._clock = clock
        self._path = path
        self._zone = texts.zone
        notify = loaded.notify
        self._absences: tuple[Absence, ...] = ()
        around = Surroundings(now=lambda: clock.now().utc, errors=(JournalError,), away=self._away)
        self._caller = (
            Caller(lambda: CallOutbox(path), notify, loaded.site.pool.name, texts.zone, around) if notify is not None else None
        )
        self._heartbeat = Heartbeat(notify.watcher) if notify is not None and notify.watcher is not None else None

    def start(self) -> None:
        """Starts the caller's thread."""
        if self._caller is not None:
            self._caller.start()

    def faults(self) -> tuple[Code, ...]:
        """Evidence for the step."""
        caller = () if self._caller is None else self._caller.faults()
        return (*caller, *(() if self._heartbeat is None else self._heartbeat.faults()))

    def _away(self) -> bool:
        return lasting(self._absences) is not None

    def absences(self, absences: tuple[Absence, ...]) -> None:
        """Who is away is told to the caller after each step: then the second person is called sooner."""
        self._absences = absences

    def line(self, key: str, now: datetime, code: Code, facts: Facts) -> None:
        """Puts a message for the first person out, once for ever under its key. Raises the journal's errors."""
        if self._caller is not None and put_line(self._path, key, now, code, facts):
            self._caller.wake()

    def alive(self, step_no: int, decision: Decision | None) -> None:
        """A whole good step whose record holds."""
        if self._heartbeat is None or decision is None:
            return
        unsent_s = 0.0 if self._caller is None else self._caller.oldest_unsent_s()
        self._heartbeat.offer(lambda: figures(step_no, decision), unsent_s)

    def monthly_test(self, now: datetime) -> None:
        """The whole chain, once a month, however often it is asked for. Raises the journal's errors."""
        if self._caller is not None and put_monthly(self._path, now, self._zone):
            self._caller.wake()

    def stop(self) -> None:
        """What was not sent stays in the journal."""
        if self._caller is not None:
            self._caller.stop()
        if self._heartbeat is not None:
            self._heartbeat.stop()


def figures(step_no: int, decision: Decision) -> Mapping[str, float | None]:
    """What the watcher is told: no secret, no place, nothing of who is at home."""
    evidence = decision.evidence
    ran = [evidence.feeders[feeder].ran_s for feeder in evidence.site.feeding(Substance.CHLORINE)]
    last_s = max((at_s for at_s in ran if at_s is not None), default=None)
    return {
        "step": step_no,
        "flow": int(evidence.flow.proven),
        "chlorine_last_fed_s": None if last_s is None else round(evidence.clock_s - last_s),
    }
