"""Kills the caller between every two steps of the outbox, again and again, and counts what was lost or called twice as new.

    python -m tests.benchmarks.outbox_kills 1000

A call counts as lost where its step was acknowledged and no message of it ever arrived; as twice new where the same
step of it arrived once more without the words that say so.
"""

import random
import re
import subprocess
import sys
import tempfile
from collections import Counter
from pathlib import Path

from tests.notify.receivers import HttpReceiver

POINTS = ("committed", "begun", "sent", "ended", "cleared", "closed")
ROOT = Path(__file__).parents[2]

CHILD = """
import os, signal, sys
from datetime import timedelta
from pathlib import Path
import apprise
from dosectl.notify.caller import Caller, Surroundings
from dosectl.settings.notify import NotifySettings
from dosectl.store.call_outbox import CallOutbox
from tests.notify.people import NOON, ZONE, Hands, Pool, alarm, call, person, until

folder, url = Path(sys.argv[1]), sys.argv[2]

def once(number, point, left):
    def passed(name):
        nonlocal left
        if name == point:
            left -= 1
            if left <= 0:
                os.kill(os.getpid(), signal.SIGKILL)
    hands = Hands(NOON + timedelta(minutes=20 * number))
    pool = Pool(folder)
    outbox = CallOutbox(pool.path)
    pool.step(hands.now(), alarms=tuple(alarm("cleared", hands.now(), item.occurrence) for item in outbox.open_calls()))
    if point != "none":
        pool.step(hands.now(), calls=(call(at=hands.now(), occurrence=number),))
        os.write(1, b"put %d\\n" % number)
    passed("committed")
    around = Surroundings(hands.now, hands.now_s, point=passed)
    caller = Caller(lambda: CallOutbox(pool.path), NotifySettings((person("anna", 1, url),)), "P", ZONE, around)
    def look():
        caller.round(outbox)
        if not caller._flying:
            hands.pass_by(minutes=5)
    caller.round(outbox)
    until(lambda: not caller._flying, lambda: caller.round(outbox))
    pool.step(hands.now(), alarms=(alarm("cleared", hands.now(), number),))
    passed("cleared")
    until(lambda: not outbox.open_calls(), look)

os.write(1, b"ready\\n")
for line in sys.stdin:
    number, point, left = line.split()
    child = os.fork()
    if not child:
        once(int(number), point, int(left))
        os._exit(0)
    _, status = os.waitpid(child, 0)
    os.write(1, b"end %d\\n" % (1 if os.WIFSIGNALED(status) else 0 if status == 0 else 2))
"""


def main(kills: int) -> int:
    """Runs so many kills, then one run that nobody kills. Exit status 1 where anything was lost or came twice as new."""
    chance = random.Random(20260601)
    receiver = HttpReceiver()
    put: set[int] = set()
    killed: Counter[str] = Counter()
    failed = 0
    with tempfile.TemporaryDirectory() as folder:
        command = [sys.executable, "-c", CHILD, folder, receiver.url]
        child = subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True, cwd=ROOT)
        assert child.stdin is not None
        assert child.stdout is not None
        assert child.stdout.readline() == "ready\n"
        number = 0
        while sum(killed.values()) < kills or number == 0:
            number += 1
            point = chance.choice(POINTS)
            _order(child, f"{number} {point} {chance.choice((1, 1, 2))}")
            end = _end(child, put)
            killed[point] += end == 1
            failed += end == 2
        _order(child, f"{number + 1} none 1")
        failed += _end(child, put) != 0
        child.stdin.close()
        child.wait()
    texts = [str(message["message"]) for message in receiver.got]
    receiver.close()
    references = [re.findall(r"#(\S+)/(\w+)", text) for text in texts]
    arrived = {key for found in references for key, _ in found}
    lost = [key for key in (f"feed.no_response:{item}" for item in sorted(put)) if key not in arrived]
    steps: Counter[tuple[str, str]] = Counter()
    twice_new = 0
    for text, found in zip(texts, references, strict=True):
        for step in found:
            twice_new += steps[step] > 0 and "(may be a repeat)" not in text
            steps[step] += 1
    repeats = sum(count - 1 for count in steps.values())
    print(f"{sum(killed.values())} kills in {number} runs: {dict(killed)}")
    print(f"{len(put)} calls put out, {len(lost)} lost, {repeats} repeated and marked so, {twice_new} twice as new")
    print(f"{failed} runs failed")
    return 1 if lost or twice_new or failed else 0


def _order(child: "subprocess.Popen[str]", words: str) -> None:
    assert child.stdin is not None
    child.stdin.write(words + "\n")
    child.stdin.flush()


def _end(child: "subprocess.Popen[str]", put: set[int]) -> int:
    assert child.stdout is not None
    for line in child.stdout:
        word, _, rest = line.partition(" ")
        if word == "end":
            return int(rest)
        put.add(int(rest))
    return 2


if __name__ == "__main__":
    sys.exit(main(int(sys.argv[1]) if len(sys.argv) > 1 else 1000))
