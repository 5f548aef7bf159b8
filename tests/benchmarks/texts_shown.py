"""Prints every kind of text as it arrives at real receivers on loopback, in both languages, out of one pool's run.

    python -m tests.benchmarks.texts_shown          (about two minutes)

Quince House, an invented pool, runs for nine days in the closed loop with its record; its owner is away for seven of them, flow
is lost for some hours and acid siphons. Calls, daily lines, summaries and the account are made by the daemon's own code from that
record, and are sent over a webhook, mail and a real MQTT broker. Anna knows the pool; Bert, who is called second, does not. The
call of every row of the alarm list stands at the end. Asserts nothing.
"""

import json
import logging
import re
import sys
import tempfile
import threading
from collections import Counter
from collections.abc import Callable
from contextlib import ExitStack
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from email.header import decode_header, make_header
from pathlib import Path

import paho.mqtt.client as mqtt

from dosectl.core.advice.reminders import reminders
from dosectl.core.alarms import ROWS
from dosectl.daemon.away import Away
from dosectl.daemon.calendar_feed import feed, view_of
from dosectl.daemon.calling import put_line, put_test
from dosectl.daemon.upkeep import Upkeep
from dosectl.model.reasons import Code, Facts
from dosectl.model.requests import Place, Request, RequestId
from dosectl.notify.answers import resolve
from dosectl.rehearsal.loop import Moment
from dosectl.store.call_outbox import CallOutbox
from dosectl.store.faults import JournalError
from dosectl.texts.calls import Reader, Told, call_text
from dosectl.texts.render import Texts
from tests.daemon.recorded import Recorded
from tests.notify.people import ZONE, Hands, person, until
from tests.notify.receivers import HttpReceiver, MailReceiver
from tests.notify.test_caller import Desk
from tests.services import start_mosquitto

DAYS = 9
LOOK_MINUTES = 5
AWAY_H, AWAY_DAYS = 27, 7.0
FAULTS = ((51.0, 60.0, "flow_lost"), (98.0, 98.75, "siphon_acid"))  # from, to [h], fault
ANSWERS_H = (2.0, 59.0, 98.5)  # Anna answers what she was called of last
MENDED_H = 99.0  # what latched is cleared at the plant, and the water tested
WEEK_H = 24 * 8 - 1
NOW = datetime(2026, 7, 19, 12, 0, tzinfo=UTC)


class Shown:
    """One run in one language."""

    def __init__(self, folder: Path, language: str, stack: ExitStack) -> None:
        self.language = language
        self.pool = Recorded(folder)
        self.hands = Hands(self.pool.plant.utc)
        self.hook, self.bert, self.mail = HttpReceiver(), HttpReceiver(), MailReceiver()
        broker = stack.enter_context(start_mosquitto(folder / "broker"))
        self.bus: list[str] = []
        self._listen(broker.port)
        anna = person("anna", 1, self.hook.url, self.mail.url, f"mqtt://127.0.0.1:{broker.port}/calls/anna")
        bert = person("bert", 2, self.bert.url, knows_pool=False)
        persons = (replace(anna, language=language), replace(bert, language=language))
        self.desk = Desk(self.pool, self.hands, *persons)  # type: ignore[arg-type] - of a pool it takes the record's path
        self.words: list[str] = []
        self._asked = 0
        self._shown: Counter[tuple[str, str]] = Counter()

    def _listen(self, port: int) -> None:
        ready = threading.Event()
        self._client = mqtt.Client(mqtt.CallbackAPIVersion.VERSION2)
        self._client.on_message = lambda _c, _u, message: self.bus.append(message.payload.decode())
        self._client.on_subscribe = lambda *_: ready.set()
        self._client.connect("127.0.0.1", port)
        self._client.subscribe("calls/anna")
        self._client.loop_start()
        ready.wait(10)

    def _print(self, title: str, way: str, text: str) -> None:
        """A message; of one that is repeated over a way the first two."""
        text = text.replace("\r", "").strip()
        call = re.sub(r"/\d+$", "", text.rpartition("#")[2])
        self._shown[way, call] += 1
        if self._shown[way, call] <= 2:
            print(f"-- {title}: {way}\n{text}\n")

    def repeats(self) -> None:
        """How often each was sent over each way."""
        print("-- sent in all, where more than twice")
        for (way, call), times in sorted(self._shown.items()):
            if times > 2:
                print(f"{way}: {call}, {times} times until it was answered or over")
        print()

    def look(self, title: str) -> None:
        """One look of the caller, until nothing is in the air; then what has arrived where."""
        self.desk.settle()
        self.desk.settle()
        for message in self.mail.got:
            subject = str(message["Subject"])
            text = message.get_payload(0).get_payload(decode=True) if message.is_multipart() else message.get_payload(decode=True)
            self._print(title, "mail to anna", f"{_plain(subject)}\n{bytes(text).decode() if isinstance(text, bytes) else text}")
        for who, receiver in (("anna", self.hook), ("bert", self.bert)):
            for item in receiver.got:
                self._print(title, f"webhook to {who}", f"{item['title']}\n{item['message']}")
                if who == "anna" and (found := re.search(r"[Cc]ode ([A-Z2-9]{8})\b", item["message"])):
                    self.words.append(found.group(1))
        for text in self.bus:
            self._print(title, "MQTT to anna", text)
        self.mail.got.clear()
        self.hook.got.clear()
        self.bert.got.clear()
        self.bus.clear()

    def answer(self) -> None:
        """Anna answers by the newest code; then once more, which is told."""
        for _ in range(2):
            self._asked += 1
            facts = (("code", self.words[-1]),)
            expires = self.hands.now() + timedelta(hours=1)
            request = Request(RequestId(f"phone{self._asked}"), Code("answer_alarm"), facts, "phone", Place.REMOTE, expires)
            settled = resolve(lambda: CallOutbox(self.pool.path), (JournalError,), request, self.hands.now())
            if settled.request is not None:
                self.pool.loop._requests.append(settled.request)
                reply = self.pool.pass_by(1.0 / 60.0).decision.replies[-1]
                print(f"-- the reply to her answer\n{Texts('Europe/Vienna').reply(reply)}\n")
            else:
                print(f"-- the reply to her answer\n{settled.words}\n")

    def close(self) -> None:
        self._client.loop_stop()
        self.desk.outbox.close()
        self.pool.close()
        for one in (self.hook, self.bert, self.mail):
            one.close()


def _plain(subject: str) -> str:
    """A mail's subject without its encoding."""
    return str(make_header(decode_header(subject)))


def at_hour(number: int, hour: float) -> bool:
    """Whether this is the first step of an hour of the run."""
    return number == round(hour * 60.0)


def run(shown: Shown) -> Moment:
    """Nine days; prints as things arrive."""
    pool = shown.pool

    def say(key: str, now: datetime, code: Code, facts: Facts) -> None:
        put_line(pool.path, key, now, code, facts)

    away = Away(pool.path, pool.loop.plan.site, say)
    upkeep = Upkeep(
        pool.path, pool.loop.plan.site, lambda told: print(f"-- a summary, on the bus\n{json.dumps(told)}\n"), away.week
    )
    for quantity in ("free_chlorine", "ph"):
        pool.loop.water_test(quantity, "drops")
    pool.loop.ask("refill", (("feeder", "acid"), ("container_ml", 5000.0)))
    last: Moment | None = None
    for number in range(DAYS * 24 * 60):
        for begins, ends, fault in FAULTS:
            if at_hour(number, begins) or at_hour(number, ends):
                pool.plant.set_fault(fault, at_hour(number, begins))
        if at_hour(number, MENDED_H) and last is not None:
            for key, memory in last.state.working.memories.items():
                if memory.latched is not None:
                    pool.loop.ask("clear_latch", (("latch", key), ("reason", str(memory.latched.code))))
            for quantity in ("free_chlorine", "ph"):
                pool.loop.water_test(quantity, "drops")
        if at_hour(number, AWAY_H):
            pool.loop.ask("go_away", (("days", AWAY_DAYS),))
        last = pool.pass_by(1.0 / 60.0) if number % LOOK_MINUTES == 0 else next(pool.run(1.0 / 60.0))
        shown.hands.at = last.state.working.last.utc
        if number % LOOK_MINUTES:
            continue
        if at_hour(number, 1.0):
            put_test(pool.path, shown.hands.now(), 202607)
        if number % (24 * 60) == 0 and number:
            away.morning(last.state, last.decision.control.target_mg_l)
        if at_hour(number, WEEK_H):
            upkeep.do("day_summary", last.state, pool.journal)
            upkeep.do("week_summary", last.state, pool.journal)
        away.after_step(last.state.durable, shown.hands.now())
        if last.state.durable.absences and last.state.durable.absences[-1].ended and away._told is None:
            until(lambda: away._told is not None)  # the account is made in a thread of its own
        shown.look(f"day {number // 1440}, {shown.hands.now().astimezone(ZONE):%H:%M}")
        if any(at_hour(number, hour) for hour in ANSWERS_H):
            shown.answer()
    assert last is not None
    return last


def rows(language: str, out: Callable[[str], object] = print) -> None:
    """The call of every row to who knows the pool, and the all-clear of it."""
    reader = Reader(language, True, ZONE, "Quince House", "ABCD2345")
    for row in sorted(ROWS, key=lambda item: (-item.priority, item.code)):
        told = Told(row.code, int(row.priority), NOW - timedelta(hours=2))
        out(f"{call_text(told, reader, NOW)[1]}\n  {call_text(replace(told, until=NOW), reader, NOW)[1]}")


def main() -> None:
    logging.disable(logging.WARNING)
    for language in sys.argv[1:] or ["en", "de"]:
        print(f"==== {language}: as it arrives\n")
        with tempfile.TemporaryDirectory() as folder, ExitStack() as stack:
            shown = Shown(Path(folder), language, stack)
            last = run(shown)
            shown.repeats()
            loaded = shown.pool.loaded
            now = shown.hands.now()
            body = feed(loaded, reminders(view_of(loaded, last.state.durable, now)), now, language).decode()
            print("-- the calendar file, its events without what is the same in each")
            print("\n".join(re.findall(r"(?:DTSTART|SUMMARY|RRULE)[^\n]*", body.replace("\r\n ", "").replace("\r", ""))), "\n")
            shown.close()
        print(f"==== {language}: every row of the alarm list; below each its all-clear\n")
        rows(language)
        print()


if __name__ == "__main__":
    main()
