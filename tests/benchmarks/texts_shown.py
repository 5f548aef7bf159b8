"""Prints every kind of message as it arrives at real receivers on loopback, in both languages.

    python -m tests.benchmarks.texts_shown

Asserts nothing. Anna knows the pool; Bert, who is called second, does not and reads German.
"""

import tempfile
from dataclasses import replace
from pathlib import Path

from dosectl.core.alarms.view import Priority
from dosectl.daemon.calling import put_line
from dosectl.model.reasons import Code, Facts
from dosectl.texts.lines import ACCOUNT, MORNING, WEEK
from tests.notify.people import Hands, Pool, alarm, call, person
from tests.notify.receivers import HttpReceiver, MailReceiver
from tests.notify.test_caller import Desk

FIGURES: Facts = (
    *(("free_mg_l", 3.1), ("low_mg_l", 2.6), ("high_mg_l", 3.7), ("ph", 7.48), ("orp_mv", 701)),
    *(("fed:chlorine", 2.3), ("fed:acid", 1.8), ("stock:acid", 16)),
)
PAGE: Facts = (
    *(("days", 13.0), ("in_band_h", 287.5), ("known_h", 310.0), ("of_h", 312.0)),
    *(
        ("free_low", 1.9),
        ("free_low_utc", "2026-05-24T05:00+00:00"),
        ("free_high", 3.9),
        ("free_high_utc", "2026-05-21T17:30+00:00"),
    ),
    *(("ph_low", 7.38), ("ph_low_utc", "2026-05-20T11:00+00:00"), ("ph_high", 7.71), ("ph_high_utc", "2026-05-25T05:30+00:00")),
    *(("fed:cell", 29.4), ("fed:acid", 21.0), ("used:acid", 4750), ("left:acid", 250), ("tests:ph", 2), ("test:ph", 7.5)),
    *(("alarm:flow.lost", 1), ("longest:flow.lost", 3.5), ("trip:flow.proven", 13), ("trip:flow.settle", 13)),
)


def main() -> None:
    for language in ("en", "de"):
        print(f"==== {language}\n")
        with tempfile.TemporaryDirectory() as folder:
            _show(Path(folder), language)


def _show(folder: Path, language: str) -> None:
    pool, hands = Pool(folder), Hands()
    push, bert, mail = HttpReceiver(), HttpReceiver(), MailReceiver()
    anna = replace(person("anna", 1, push.url, mail.url), language=language)
    desk = Desk(pool, hands, anna, person("bert", 2, bert.url, knows_pool=False, language=language))

    def step(title: str, *, hours: float = 0.0) -> None:
        hands.pass_by(hours=hours)
        desk.settle()
        desk.settle()
        for who, receiver in (("anna", push), ("bert", bert)):
            for message in receiver.got:
                print(f"-- {title}, to {who}:\n{message['title']}\n{message['message']}\n")
            receiver.got.clear()
        hands.pass_by(minutes=16)

    desk.outbox.put("notify.test:1", hands.now(), "notify.test", 1, 2, "test", ())
    step("a test of the calls")
    with_folds = replace(
        call(3, hands.now(), code=Code("node.offline")), folded=(Code("flow.evidence_lost"), Code("water.fallback"))
    )
    pool.step(hands.now(), calls=(with_folds,))
    step("a grave call with what follows from it")
    step("the same, repeated, and the second person", hours=2.0)
    pool.step(hands.now(), alarms=(alarm("cleared", hands.now(), code=Code("node.offline")),))
    step("all clear")
    pool.step(hands.now(), calls=(call(int(Priority.CRITICAL), hands.now(), code=Code("feed.gas_hold")),))
    step("a critical call")
    pool.step(hands.now(), alarms=(alarm("cleared", hands.now(), code=Code("feed.gas_hold")),))
    step("all clear")
    for name, code, facts in (
        ("the morning's line", MORNING, FIGURES),
        ("a morning on which not all is well", MORNING, (("not:alarm:flow.lost", 1), ("not:stock", 2.0), *FIGURES)),
        ("the account after an absence", ACCOUNT, PAGE),
        ("the week", WEEK, (("days", 7.0), *PAGE[1:])),
    ):
        put_line(pool.path, f"{code}:{len(name)}", hands.now(), code, facts)
        step(name)
    print(f"-- by mail, {len(mail.got)} in all; subjects: {[str(item['Subject']) for item in mail.got][:2]}\n")
    desk.outbox.close()
    pool.journal.close()
    for one in (push, bert, mail):
        one.close()


if __name__ == "__main__":
    main()
