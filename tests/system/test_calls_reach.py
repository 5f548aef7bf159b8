"""From a fault at the pool to people: real daemon, broker, mail and web receivers, command line and outside watcher."""

import email.message
import re
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import datetime, timedelta
from pathlib import Path

import pytest

from dosectl.pool_model.params import PlantParams
from dosectl.store.call_outbox import CallOutbox
from tests.notify.receivers import HttpReceiver, MailReceiver
from tests.notify.test_caller import WATCHER
from tests.services import eventually
from tests.system.pool_in_hand import START, PoolInHand
from tests.system.scene import SOON, Scene, scene_at
from tests.system.stage import run_words, write_secret

pytestmark = [pytest.mark.system, pytest.mark.timeout(900)]

PEOPLE = """
[notify]
{watcher}

[notify.persons.anna]
name = "Anna"
order = 1
routes = [{routes}]

[notify.persons.bert]
name = "Bert"
order = 2
knows_pool = false
language = "de"
routes = ["bert.secret"]
"""
MONTHS = timedelta(days=90)
Routes = dict[str, str] | None


class Phones:
    """Everybody's receivers."""

    def __init__(self) -> None:
        self.push, self.bert, self.mail = HttpReceiver(), HttpReceiver(), MailReceiver()

    def close(self) -> None:
        for one in (self.push, self.bert, self.mail):
            one.close()


@contextmanager
def called_scene(
    folder: Path,
    phones: Phones,
    more: Routes = None,
    last: Routes = None,
    watcher: str = "",
    start: datetime = START,
    params: PlantParams | None = None,
) -> Iterator[Scene]:
    """A pool whose owner Anna has push and mail (and `more` routes before, `last` after), and whose neighbour Bert has one."""
    routes = {**(more or {}), "push": phones.push.url, "mail": phones.mail.url, **(last or {})}
    names = ", ".join(f'"{name}.secret"' for name in routes)
    heartbeat = 'heartbeat_file = "watcher.secret"\nheartbeat_s = 30' if watcher else ""
    people = PEOPLE.format(watcher=heartbeat, routes=names)
    with scene_at(folder, params, more=SOON + people, start=start) as scene:
        for name, url in {**routes, "bert": phones.bert.url, "watcher": watcher}.items():
            write_secret(scene.installation.folder / f"{name}.secret", url)
        yield scene.begin()


@pytest.fixture
def phones() -> Iterator[Phones]:
    made = Phones()
    yield made
    made.close()


def texts(receiver: HttpReceiver) -> list[str]:
    return [f"{message['title']}\n{message['message']}" for message in receiver.got]


def about(receiver: HttpReceiver, key: str) -> list[str]:
    return [text for text in texts(receiver) if f"#{key}/" in text]


def code_in(text: str) -> str:
    found = re.search(r"[Cc]ode ([A-Z0-9]{8})", text)
    assert found is not None, text
    return found[1]


def arrives(pool: PoolInHand, is_so: Callable[[], object], limit_h: float, what: str) -> None:
    """Lets time pass until it is so, no faster than the caller's thread can look: that goes by the machine's time."""

    def looked() -> object:
        time.sleep(0.01)
        return is_so()

    pool.until(looked, limit_h, what=what)


def written(mail: email.message.Message) -> str:
    """The plain text of a mail."""
    parts = [part for part in mail.walk() if part.get_content_type() == "text/plain"] or [mail]
    body = parts[0].get_payload(decode=True)
    assert isinstance(body, bytes)
    return body.decode()


def command(scene: Scene, *words: str) -> tuple[int, str, str]:
    """The owner's command line beside the running pool."""
    return scene.pool.beside(run_words(*words, "--config", str(scene.installation.owner_config)))


def test_a_fault_calls_the_owner_then_the_neighbour_and_a_code_stops_it(tmp_path: Path, phones: Phones) -> None:
    with called_scene(tmp_path, phones) as scene:
        pool = scene.pool
        assert command(scene, "away", "--days", "3")[0] == 0
        pool.fault("node_silent")
        arrives(pool, lambda: phones.push.got and phones.mail.got, 0.5, what="the owner is called over both ways")
        first = texts(phones.push)[0]
        began = pool.nodes.elapsed_s
        assert first.startswith("HIGH Pool Quince House (invented): A feeder's node is silent")
        assert "Look at its power and network." in first
        assert code_in(first) == code_in(written(phones.mail.got[0])), "one person, one code"
        assert not phones.bert.got

        arrives(pool, lambda: phones.bert.got, 2.0, what="nobody answers, so the neighbour is called")
        assert 0.8 * 3600.0 <= pool.nodes.elapsed_s - began <= 1.8 * 3600.0, "an hour while the owner is away"
        (neighbour,) = texts(phones.bert)
        assert neighbour.startswith("HOCH Pool Quince House (invented)\n[HOCH] Sie werden um Hilfe beim Pool")
        assert "Bei Chlorgeruch draußen bleiben und Hilfe rufen." in neighbour

        pool.fault("node_silent", False)
        arrives(
            pool, lambda: any("Vorbei:" in text for text in texts(phones.bert)), 1.0, what="the all-clear reaches who was called"
        )
        assert any("Over:" in text for text in texts(phones.push))
        older = code_in(first)

        pool.fault("node_silent")
        arrives(pool, lambda: about(phones.push, "node.offline:2"), 1.0, what="it is called anew")
        newest = code_in(about(phones.push, "node.offline:2")[0])
        assert newest != older
        status, said, more = command(scene, "answer", "--code", older)
        assert status == 1
        assert "occurrence 2 stands, not 1" in said + more
        status, said, more = command(scene, "answer", "--code", "ABCD2345")
        assert (status, "No call has this code" in said + more) == (1, True)

        status, said, more = command(scene, "answer", "--code", newest)
        assert status == 0, said + more
        assert "anna knows of node.offline, occurrence 2" in said
        status, said, more = command(scene, "answer", "--code", newest)
        assert (status, "used up" in said + more) == (1, True)
        heard = len(phones.push.got), len(phones.bert.got)
        place = len(pool.wire)
        pool.run(2.2 * 3600.0)
        assert (len(phones.push.got), len(phones.bert.got)) == heard, "an answer ends the calling"
        assert not pool.ons(since=place), "an answer feeds nothing"
        view = {alarm["code"]: alarm for alarm in pool.view["alarms"]}
        assert view["node.offline"]["present"]
        assert view["node.offline"]["acked"]


def test_everything_broken_at_once_is_one_call_with_its_first_cause_and_few_messages(tmp_path: Path, phones: Phones) -> None:
    with called_scene(tmp_path, phones) as scene:
        pool = scene.pool
        pool.run(600.0)
        for fault in ("node_silent", "probes_silent", "pump_room_silent"):
            pool.fault(fault)
        arrives(pool, lambda: phones.push.got, 0.7, what="somebody is called")
        pool.run(3 * 3600.0)
        keys = {found for text in (*texts(phones.push), *texts(phones.bert)) for found in re.findall(r"#([a-z_.]+:\d+)", text)}
        assert keys == {"node.offline:1"}
        assert any(alarm["follows"] == "node.offline" for alarm in pool.view["alarms"])
        with CallOutbox(scene.installation.journal) as outbox:
            attempts = outbox.attempts(START - MONTHS)
        for one in attempts:
            near = {
                other.message
                for other in attempts
                if (other.person, other.route) == (one.person, one.route)
                and timedelta() <= other.begun - one.begun < timedelta(minutes=15)
            }
            assert len(near) <= 4
        assert phones.bert.got


def test_ways_that_are_down_slow_or_loop_hold_up_neither_the_call_nor_the_pool(tmp_path: Path, phones: Phones) -> None:
    bad = {mode: HttpReceiver(mode) for mode in ("refuse", "hang", "circle")}
    liar = HttpReceiver("drop")
    before = {mode: receiver.url for mode, receiver in bad.items()}
    with called_scene(tmp_path, phones, before, {"drop": liar.url}) as scene:
        pool = scene.pool
        pool.fault("node_silent")
        arrives(pool, lambda: phones.push.got and phones.mail.got, 0.5, what="the good ways carry it")
        eventually(lambda: liar.asked and all(receiver.asked for receiver in bad.values()), what="all ways are tried")
        arrives(pool, lambda: about(phones.push, "calls.failing:1"), 8.0, what="a way that fails is said over the others")
        assert "A way to call people fails" in about(phones.push, "calls.failing:1")[0]
        assert scene.daemon.running
    for receiver in (liar, *bad.values()):
        receiver.close()


def test_an_outside_watcher_calls_when_the_daemon_is_killed(tmp_path: Path, phones: Phones) -> None:
    watcher = subprocess.Popen([sys.executable, "-c", WATCHER, "60"], stdout=subprocess.PIPE, text=True)
    assert watcher.stdout is not None
    port = int(watcher.stdout.readline())
    try:
        with called_scene(tmp_path, phones, watcher=f"http://127.0.0.1:{port}/pool") as scene:
            assert watcher.stdout.readline() == "heard\n"
            heard: list[str] = []
            lines = watcher.stdout
            reader = threading.Thread(target=lambda: heard.extend(lines), daemon=True)
            reader.start()
            eventually(lambda: scene.pool.tick() and "heard\n" in heard, limit_s=60.0, what="the next beat")
            scene.daemon.signal(signal.SIGKILL)
            eventually(lambda: "SILENT\n" in heard, limit_s=90.0, what="the watcher calls")
            reader.join(10)
    finally:
        watcher.kill()
        watcher.wait()
