"""Calls as they arrive at real receivers that take, refuse, hang, lie or send in circles; answers by code; the watcher."""

import re
import signal
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import replace
from datetime import timedelta
from pathlib import Path
from types import SimpleNamespace
from typing import cast

import pytest

from dosectl.cli.leave import calls_known
from dosectl.daemon.calling import put_test
from dosectl.model.call_log import OpenCall, Outcome
from dosectl.model.calls import FLOOD, Call
from dosectl.model.reasons import Code
from dosectl.model.requests import Place, Request, RequestId
from dosectl.notify.answers import WRONG_MAX, Settled, resolve
from dosectl.notify.caller import CALLER_FAILING, MESSAGES_MAX, ROUTE_FAILING, TEST_UNANSWERED, Caller, Surroundings
from dosectl.notify.heartbeat import HEARTBEAT_FAILING, UNSENT_S_MAX, Heartbeat
from dosectl.settings.load import Loaded
from dosectl.settings.notify import NotifySettings, Person, WatcherSettings
from dosectl.store.call_outbox import CallOutbox
from dosectl.store.faults import JournalError
from tests.notify.people import NOON, ZONE, Hands, Pool, alarm, call, person, until
from tests.notify.receivers import HttpReceiver, MailReceiver


@pytest.fixture
def pool(tmp_path: Path) -> Pool:
    return Pool(tmp_path)


@pytest.fixture
def push() -> Iterator[HttpReceiver]:
    receiver = HttpReceiver()
    yield receiver
    receiver.close()


@pytest.fixture
def other() -> Iterator[HttpReceiver]:
    receiver = HttpReceiver()
    yield receiver
    receiver.close()


@pytest.fixture
def third() -> Iterator[HttpReceiver]:
    receiver = HttpReceiver()
    yield receiver
    receiver.close()


class Desk:
    """A caller driven by hand: `look` is one round; the routes send in their threads."""

    def __init__(self, pool: Pool, hands: Hands, *persons: Person) -> None:
        self.hands = hands
        self.outbox = CallOutbox(pool.path)
        around = Surroundings(now=hands.now, now_s=hands.now_s)
        self.caller = Caller(lambda: CallOutbox(pool.path), NotifySettings(persons), "Quince House", ZONE, around)

    def look(self) -> None:
        self.caller.round(self.outbox)

    def settle(self) -> None:
        """Rounds until nothing is in the air."""
        self.look()
        until(lambda: not self.caller._flying, self.look)

    def run(self, minutes: int, every_s: int = 20) -> None:
        for _ in range(minutes * 60 // every_s):
            self.settle()
            self.hands.pass_by(seconds=every_s)

    def attempts(self) -> list[Outcome]:
        return [item.outcome for item in self.outbox.attempts(NOON - timedelta(days=9))]


def ask(pool: Pool, code: str, number: int = 1, at: Hands | None = None) -> Settled:
    facts = (("code", code),)
    request = Request(RequestId(f"r{number}"), Code("answer_alarm"), facts, "phone", Place.REMOTE, NOON + timedelta(days=9))
    return resolve(lambda: CallOutbox(pool.path), (JournalError,), request, NOON if at is None else at.now())


def code_in(body: str) -> str:
    found = re.search(r"code ([A-Z0-9]{8})", body)
    assert found is not None, body
    return found[1]


def test_a_call_arrives_over_push_and_mail_with_what_to_do_and_a_code(pool: Pool, push: HttpReceiver) -> None:
    mail = MailReceiver()
    desk = Desk(pool, Hands(), person("anna", 1, push.url, mail.url))
    pool.step(NOON, calls=(call(),))
    desk.settle()
    (message,) = push.got
    assert message["title"].startswith("HIGH Pool Quince House")
    assert "Test free chlorine and pH by hand" in message["message"]
    assert len(message["message"].partition("\n")[0]) <= 400
    assert message["message"].endswith("#feed.no_response:1/0")
    assert len(mail.got) == 1
    assert desk.attempts() == [Outcome.TAKEN, Outcome.TAKEN]
    mail.close()


def test_who_does_not_know_the_pool_is_told_in_their_language_what_to_do_and_what_not_to_do(
    pool: Pool, push: HttpReceiver
) -> None:
    desk = Desk(pool, Hands(), person("bert", 1, push.url, knows_pool=False, language="de"))
    pool.step(NOON, calls=(call(4, code=Code("feed.both_ran")),))
    desk.settle()
    text = push.got[0]["message"]
    assert "Nicht hineingehen, keine Behälter oder Pumpen anfassen" in text
    assert "Notruf" in text
    assert len(text.partition("\n")[0]) <= 400


def test_a_route_that_is_down_is_tried_again_ever_later_and_becomes_a_fault_while_the_other_carries_on(
    pool: Pool, push: HttpReceiver, other: HttpReceiver
) -> None:
    other.mode = "refuse"
    desk = Desk(pool, Hands(), person("anna", 1, push.url, other.url))
    pool.step(NOON, calls=(call(),))
    desk.run(2, every_s=5)
    assert len(push.got) == 1
    assert 4 <= other.asked <= 6, "5 s, 10 s, 20 s, 40 s"
    assert desk.caller.faults() == (ROUTE_FAILING,)
    other.mode = "take"
    desk.run(6, every_s=30)
    assert desk.caller.faults() == ()
    assert len(other.got) == 1


@pytest.mark.parametrize("mode", ["hang", "circle"])
def test_a_route_that_hangs_or_sends_in_circles_holds_up_nobody_and_ends_as_a_fault(
    pool: Pool, push: HttpReceiver, other: HttpReceiver, mode: str
) -> None:
    other.mode = mode
    desk = Desk(pool, Hands(), person("anna", 1, other.url, push.url))
    pool.step(NOON, calls=(call(),))
    until(lambda: bool(push.got), desk.look)
    until(lambda: Outcome.FAILED in desk.attempts(), desk.look)
    assert desk.attempts().count(Outcome.TAKEN) == 1


def test_a_route_that_says_yes_and_drops_all_is_not_taken_for_heard(pool: Pool, push: HttpReceiver, other: HttpReceiver) -> None:
    other.mode = "drop"
    desk = Desk(pool, Hands(), person("anna", 1, other.url), person("bert", 2, push.url, knows_pool=False))
    pool.step(NOON, calls=(call(),))
    desk.run(125, every_s=60)
    assert push.got, "nobody answered, so the second person was called"


def test_an_answer_by_code_names_its_occurrence_and_stops_the_calling_and_works_once(pool: Pool, push: HttpReceiver) -> None:
    desk = Desk(pool, Hands(), person("anna", 1, push.url))
    pool.step(NOON, calls=(call(),))
    desk.settle()
    word = code_in(push.got[0]["message"])
    settled = ask(pool, word.lower())
    assert settled.request is not None
    assert settled.request.kind == "answer_alarm"
    assert settled.request.arguments == (("alarm", "feed.no_response"), ("occurrence", 1))
    assert settled.request.by == "anna"
    pool.step(NOON, alarms=(alarm("answered", NOON, by="anna"),))
    desk.run(90, every_s=300)
    assert len(push.got) == 1
    twice = ask(pool, word, 2)
    assert twice.request is None
    assert twice.reply is not None
    assert not twice.reply.done
    assert "used up" in twice.words


def test_a_code_of_an_older_occurrence_never_answers_the_newer(pool: Pool, push: HttpReceiver) -> None:
    desk = Desk(pool, Hands(), person("anna", 1, push.url))
    pool.step(NOON, calls=(call(),))
    desk.settle()
    pool.step(NOON, calls=(call(occurrence=2),), alarms=(alarm("cleared", NOON),))
    desk.settle()
    settled = ask(pool, code_in(push.got[0]["message"]))
    assert settled.request is not None
    assert dict(settled.request.arguments)["occurrence"] == 1, "the step refuses it as older"


def test_wrong_codes_are_refused_with_words_and_guessing_is_cut_off(pool: Pool, push: HttpReceiver) -> None:
    desk = Desk(pool, Hands(), person("anna", 1, push.url))
    pool.step(NOON, calls=(call(),))
    desk.settle()
    for number in range(WRONG_MAX):
        assert "No call has this code" in ask(pool, f"WRONG{number}", number).words
    assert "Too many wrong codes" in ask(pool, code_in(push.got[0]["message"]), 99).words


def test_at_most_four_messages_a_quarter_of_an_hour_and_the_last_one_names_all_that_wait(pool: Pool, push: HttpReceiver) -> None:
    desk = Desk(pool, Hands(), person("anna", 1, push.url))
    codes = ("feed.no_response", "feed.acid_budget_spent", "water.ph_low", "plant.a", "plant.b", "plant.c", "plant.d")
    pool.step(NOON, calls=tuple(call(code=Code(code)) for code in codes))
    desk.run(14)
    assert len(push.got) == MESSAGES_MAX
    text = " ".join(message["message"] for message in push.got)
    assert "4 calls at once" in text
    assert all(code in text or "What was fed" in text for code in codes[3:])


def test_a_critical_call_waits_behind_no_lesser_message_and_goes_alone(pool: Pool, push: HttpReceiver) -> None:
    desk = Desk(pool, Hands(), person("anna", 1, push.url))
    lesser = ("feed.no_response", "feed.acid_budget_spent", "water.ph_low", "plant.a")
    for code in lesser:
        pool.step(NOON, calls=(call(code=Code(code)),))
        desk.run(1)
    assert len(push.got) == MESSAGES_MAX
    pool.step(NOON, calls=(call(code=Code("feed.both_ran"), priority=4),))
    desk.run(2)
    assert len(push.got) >= MESSAGES_MAX + 1
    assert "calls at once" not in push.got[MESSAGES_MAX]["message"]
    assert "CRITICAL" in push.got[MESSAGES_MAX]["title"] + push.got[MESSAGES_MAX]["message"]


def test_the_all_clear_arrives_once_with_its_span(pool: Pool, push: HttpReceiver) -> None:
    desk = Desk(pool, Hands(), person("anna", 1, push.url))
    pool.step(NOON, calls=(call(),))
    desk.settle()
    desk.hands.pass_by(minutes=20)
    pool.step(desk.hands.now(), alarms=(alarm("cleared", desk.hands.now()),))
    desk.run(30, every_s=60)
    assert len(push.got) == 2
    assert "Over:" in push.got[1]["message"]
    assert "from 12:00 to 12:20" in push.got[1]["message"]
    assert desk.outbox.open_calls() == ()


def test_each_person_can_answer_a_test_also_after_another_did(pool: Pool, push: HttpReceiver, other: HttpReceiver) -> None:
    desk = Desk(pool, Hands(), person("anna", 1, push.url), person("bert", 2, other.url))
    desk.outbox.put("notify.test:1", NOON, "notify.test", 1, 2, "test", ())
    desk.settle()
    for number, receiver in enumerate((push, other)):
        word = code_in(receiver.got[0]["message"])
        first, again = ask(pool, word, 2 * number), ask(pool, word, 2 * number + 1)
        assert first.reply is not None
        assert again.reply is not None
        assert (first.reply.done, again.reply.done) == (True, False), "each code works once"
        desk.settle()
    assert desk.outbox.persons_who_answered(NOON - timedelta(days=1)) == {"anna", "bert"}
    desk.run(26 * 60, every_s=1800)
    assert (len(push.got), len(other.got)) == (1, 1), "one answer ends the calling"


def test_a_test_of_the_chain_wants_an_answer_and_is_a_fault_after_a_week_without(pool: Pool, push: HttpReceiver) -> None:
    desk = Desk(pool, Hands(), person("anna", 1, push.url))
    desk.outbox.put("notify.test:1", NOON, "notify.test", 1, 2, "test", ())
    desk.settle()
    desk.hands.pass_by(days=7, minutes=1)
    desk.settle()
    assert TEST_UNANSWERED in desk.caller.faults()
    settled = ask(pool, code_in(push.got[0]["message"]), at=desk.hands)
    assert settled.reply is not None
    assert settled.reply.done
    desk.settle()
    assert TEST_UNANSWERED not in desk.caller.faults()


WATCHER = """
import sys, time, http.server, threading
last = [time.monotonic()]
class H(http.server.BaseHTTPRequestHandler):
    def do_POST(self):
        self.rfile.read(int(self.headers.get("Content-Length") or 0))
        last[0] = time.monotonic()
        self.send_response(200); self.send_header("Content-Length", "0"); self.end_headers()
        print("heard", flush=True)
    def log_message(self, *a): pass
s = http.server.ThreadingHTTPServer(("127.0.0.1", 0), H)
threading.Thread(target=s.serve_forever, daemon=True).start()
print(s.server_address[1], flush=True)
while True:
    time.sleep(0.02)
    if time.monotonic() - last[0] > float(sys.argv[1]):
        print("SILENT", flush=True)
        break
"""


def test_an_outside_watcher_hears_us_while_steps_are_good_and_alarms_when_they_end_or_an_alarm_stays_unsent() -> None:
    hands = Hands()
    watcher = subprocess.Popen([sys.executable, "-c", WATCHER, "3"], stdout=subprocess.PIPE, text=True)
    assert watcher.stdout is not None
    port = int(watcher.stdout.readline())
    beat = Heartbeat(WatcherSettings(f"http://127.0.0.1:{port}/pool", 300.0), hands.now_s)
    for _ in range(3):
        beat.offer(lambda: {"step": 1.0}, 0.0)
        assert watcher.stdout.readline() == "heard\n"
        beat.stop()
        hands.pass_by(minutes=5)
    beat.offer(lambda: {"step": 1.0}, UNSENT_S_MAX + 1.0)
    assert watcher.stdout.readline() == "SILENT\n"
    watcher.wait(10)
    for _ in range(3):
        beat.offer(lambda: {"step": 1.0}, 0.0)
        beat.stop()
        hands.pass_by(minutes=5)
    assert beat.faults() == (HEARTBEAT_FAILING,)


POINTS = ("committed", "begun", "sent", "ended", "closed")

CHILD = """
import os, signal, sys
from pathlib import Path
from dosectl.notify.caller import Caller, Surroundings
from dosectl.settings.notify import NotifySettings
from dosectl.store.call_outbox import CallOutbox
from tests.notify.people import NOON, ZONE, Hands, Pool, alarm, call, person, until
folder, url, point, first = Path(sys.argv[1]), sys.argv[2], sys.argv[3], sys.argv[4] == "first"
def passed(name):
    if name == point:
        os.kill(os.getpid(), signal.SIGKILL)
pool = Pool(folder)
if first:
    pool.step(NOON, calls=(call(),))
    passed("committed")
hands = Hands()
around = Surroundings(hands.now, hands.now_s, point=passed)
caller = Caller(lambda: CallOutbox(pool.path), NotifySettings((person("anna", 1, url),)), "P", ZONE, around)
outbox = CallOutbox(pool.path)
caller.round(outbox)
until(lambda: not caller._flying, lambda: caller.round(outbox))
pool.step(NOON, alarms=(alarm("cleared", NOON),))
until(lambda: not outbox.open_calls(), lambda: caller.round(outbox))
"""


@pytest.mark.parametrize("point", POINTS)
def test_a_kill_between_any_two_steps_loses_no_call_and_calls_nothing_twice_as_new(
    tmp_path: Path, push: HttpReceiver, point: str
) -> None:
    root = Path(__file__).parents[2]
    run = [sys.executable, "-c", CHILD, str(tmp_path), push.url]
    killed = subprocess.run([*run, point, "first"], cwd=root, check=False)
    assert killed.returncode == -signal.SIGKILL
    again = subprocess.run([*run, "none", "again"], cwd=root, check=False)
    assert again.returncode == 0
    texts = [message["message"] for message in push.got]
    for step in ("0", "over"):
        mine = [text for text in texts if text.endswith(f"#feed.no_response:1/{step}")]
        assert mine, f"step {step} never arrived"
        assert all("(may be a repeat)" in text for text in mine[1:])


def test_a_call_of_a_rise_and_its_all_clear_tell_when_the_trouble_began(pool: Pool, push: HttpReceiver) -> None:
    hands = Hands()
    begun = hands.now()
    desk = Desk(pool, hands, person("anna", 1, push.url))
    hands.pass_by(hours=6)
    risen = replace(call(3, hands.now(), change="risen"), facts=(("since_utc", begun.isoformat()),))
    pool.step(hands.now(), calls=(risen,))
    desk.settle()
    hands.pass_by(minutes=20)
    pool.step(hands.now(), alarms=(alarm("cleared", hands.now()),))
    desk.settle()
    first, over = (item["message"] for item in push.got)
    assert "since 12:00" in first
    assert "from 12:00 to 18:20" in over
    desk.outbox.close()


def test_a_route_that_never_ends_is_a_fault_and_a_lesser_call_goes_another_way(pool: Pool, push: HttpReceiver) -> None:
    endless = HttpReceiver("trickle")
    desk = Desk(pool, Hands(), person("anna", 1, endless.url, push.url))
    pool.step(NOON, calls=(call(2),))
    desk.look()
    until(lambda: endless.asked == 1)
    for _ in range(40):
        desk.look()
        desk.hands.pass_by(seconds=10)
    assert ROUTE_FAILING in desk.caller.faults()
    until(lambda: bool(push.got), desk.look)
    route = desk.caller.routes["anna/way0"]
    until(route.ready, lambda: desk.hands.pass_by(seconds=50))  # it is tried again, however the old try ends
    endless.close()


class Breaking(CallOutbox):
    """Fails by a defect of ours, not by the journal."""

    broken = True

    def open_calls(self) -> tuple[OpenCall, ...]:
        if self.broken:
            raise RuntimeError("a defect")
        return super().open_calls()


def test_a_defect_of_the_caller_is_a_fault_keeps_the_watcher_from_hearing_us_and_ends_by_itself(
    pool: Pool, push: HttpReceiver, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(Breaking, "broken", True)
    monkeypatch.setattr("dosectl.notify.caller.LOOK_S", 0.01)
    hands = Hands()
    around = Surroundings(now=hands.now, now_s=hands.now_s, errors=(JournalError,))
    caller = Caller(lambda: Breaking(pool.path), NotifySettings((person("anna", 1, push.url),)), "Quince House", ZONE, around)
    pool.step(NOON, calls=(call(),))
    caller.start()
    until(lambda: CALLER_FAILING in caller.faults())
    hands.pass_by(minutes=16)
    assert caller.oldest_unsent_s() > UNSENT_S_MAX
    monkeypatch.setattr(Breaking, "broken", False)
    until(lambda: bool(push.got))
    until(lambda: caller.faults() == ())
    until(lambda: caller.oldest_unsent_s() < UNSENT_S_MAX)
    caller.stop()


def flood() -> Call:
    facts = (("feed.no_response", 1), ("feed.weak", 4))
    folded = (Code("feed.no_response"), Code("feed.weak"))
    return replace(call(3, code=FLOOD, change="flood_summary"), folded=folded, facts=facts)


def test_a_summary_of_a_flood_is_repeated_and_goes_on_to_the_second_person_until_its_code_answers_all(
    pool: Pool, push: HttpReceiver, other: HttpReceiver
) -> None:
    desk = Desk(pool, Hands(), person("anna", 1, push.url), person("bert", 2, other.url, knows_pool=False))
    pool.step(NOON, calls=(flood(),))
    desk.run(125, every_s=300)
    assert len(push.got) >= 4, "each half hour"
    assert "2 calls at once" in push.got[0]["message"]
    assert "Still: 2 calls at once" in push.got[1]["message"]
    assert len(other.got) == 1
    settled = ask(pool, code_in(push.got[0]["message"]))
    assert settled.request is not None
    asked = (settled.request, *settled.more)
    assert [one.arguments for one in asked] == [
        (("alarm", "feed.no_response"), ("occurrence", 1)),
        (("alarm", "feed.weak"), ("occurrence", 4)),
    ]
    assert len({one.id for one in asked}) == 2
    weak = alarm("answered", desk.hands.now(), 4, Code("feed.weak"))
    pool.step(desk.hands.now(), alarms=(alarm("answered", desk.hands.now()), weak))
    desk.run(125, every_s=300)
    assert (len(push.got), len(other.got)) == (5, 1)


def test_a_late_answer_to_a_lighter_call_does_not_silence_what_it_has_become(pool: Pool, push: HttpReceiver) -> None:
    desk = Desk(pool, Hands(), person("anna", 1, push.url))
    pool.step(NOON, calls=(call(2),))
    desk.settle()
    pool.step(NOON, calls=(call(3, change="risen"),))
    desk.settle()
    late = ask(pool, code_in(push.got[0]["message"]))
    assert late.request is None
    assert "has become graver" in late.words
    right = ask(pool, code_in(push.got[1]["message"]), 2)
    assert right.request is not None


def test_what_is_over_is_never_told_as_a_call_in_a_message_for_many_nor_a_test_without_its_code(
    pool: Pool, push: HttpReceiver
) -> None:
    desk = Desk(pool, Hands(), person("anna", 1, push.url))
    codes = ("feed.no_response", "feed.weak", "flow.lost", "feed.learned_use")
    for code in codes[:3]:
        pool.step(NOON, calls=(call(code=Code(code)),))
        desk.run(1)
    pool.step(NOON, alarms=tuple(alarm("cleared", NOON, code=Code(code)) for code in codes[:2]))
    pool.step(NOON, calls=(call(code=Code(codes[3])),))
    desk.outbox.put("notify.test:1", NOON, "notify.test", 1, 2, "test", ())
    desk.outbox.put("absence.line:1", NOON, "absence.line", 0, 1, "line", (("text", "x"),))
    desk.run(1)
    text = push.got[3]["message"]
    assert "[HIGH] Three days took" in text
    assert "Over: " in text
    assert text.index("What was fed") > text.index("Over: ")
    assert "test" not in text.partition("#")[0]
    assert "absence.line" not in text
    desk.run(20, every_s=60)
    assert any("Answer with code" in message["message"] and "Test of the calls" in message["message"] for message in push.got)


def test_a_test_has_a_code_of_its_own_by_each_way_so_that_one_that_swallows_all_is_found_out(
    pool: Pool, push: HttpReceiver, other: HttpReceiver, third: HttpReceiver
) -> None:
    other.mode = "drop"
    anna = person("anna", 1, push.url, other.url)
    desk = Desk(pool, Hands(), anna, person("bert", 2, third.url))
    put_test(pool.path, NOON, 1)
    desk.settle()
    (first,), (second,) = ([code_in(message["message"]) for message in receiver.got] for receiver in (push, third))
    assert first != second
    loaded = cast(Loaded, SimpleNamespace(notify=NotifySettings((anna, person("bert", 2, third.url))), journal_path=pool.path))
    ask(pool, second)
    known = calls_known(loaded, NOON)
    assert known is not None
    assert known.second_answered
    assert known.tested_days is None, "the first person never answered"
    ask(pool, first, 2)
    known = calls_known(loaded, NOON + timedelta(days=2))
    assert known is not None
    assert known.tested_days == 2.0
    assert known.untested == ("way1",)
