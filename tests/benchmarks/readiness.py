"""Prints `dosectl leave` for a good pool and for a bad one: the very verb, on a record of a real run, with a real broker.

    python -m tests.benchmarks.readiness            (about two minutes)

Quince House, an invented pool, runs for ten days in the closed loop, its readings on a broker as the daemon leaves them. The
good owner tested, calibrated and filled, and both persons answered a test call; the bad one filled a little acid
at the start, never tested the stabiliser, has a stop and a fault standing, and nobody to call. Asserts nothing.
"""

import json
import logging
import sys
import tempfile
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

from paho.mqtt import publish

from dosectl.bus.topics import Topics
from dosectl.cli.__main__ import main as dosectl
from dosectl.daemon.calling import put_test
from dosectl.daemon.confirmation import Sheets
from dosectl.daemon.record import Recorder
from dosectl.daemon.view import view_of
from dosectl.model.call_log import by_way
from dosectl.model.reasons import Code
from dosectl.model.requests import Place, Request, RequestId
from dosectl.notify.answers import resolve
from dosectl.notify.caller import fresh_word
from dosectl.pool_model.plant import PoolPlant
from dosectl.pool_model.scenarios import QUINCE_HOUSE_START, quince_house
from dosectl.rehearsal.demo_settings import demo_settings
from dosectl.rehearsal.loop import ClosedLoop, Moment
from dosectl.rehearsal.season import Season
from dosectl.settings.load import load
from dosectl.store.call_outbox import CallOutbox
from dosectl.store.faults import JournalError
from dosectl.store.journal import Journal
from dosectl.texts.render import Texts
from tests.services import LOOPBACK, start_mosquitto

DAYS = 10.0
CONTAINER_L, CONTAINER_ML = 20, 20_000.0
CALLED = """
[notify]
heartbeat_file = "watcher.url"
[notify.persons.anna]
name = "Anna"
routes = ["push.url", "mail.url"]
[notify.persons.bert]
name = "Bert"
order = 2
knows_pool = false
routes = ["bert.url", "bert_push.url"]
"""
ADDRESSES = {
    "watcher.url": f"http://{LOOPBACK}:9/alive",
    "push.url": f"json://{LOOPBACK}:9/push",
    "mail.url": f"mailto://{LOOPBACK}:9/?from=pool@example.org&to=anna@example.org&mode=insecure",
    "bert.url": f"mailto://{LOOPBACK}:9/?from=pool@example.org&to=bert@example.org&mode=insecure",
    "bert_push.url": f"json://{LOOPBACK}:9/bert",
}


class House:
    """The pool with its settings file, its record and its owner."""

    def __init__(self, folder: Path, port: int, called: bool) -> None:
        self.config = folder / "pool.toml"
        text = demo_settings(LOOPBACK, port, "5", False).replace(
            "container_l = 5\n", f"container_l = {CONTAINER_ML / 1000.0:g}\n"
        )
        self.config.write_text(text + (CALLED if called else ""))
        for name, address in ADDRESSES.items():
            (folder / name).write_text(address + "\n")
            (folder / name).chmod(0o600)
        self.loaded = load(self.config)
        params = quince_house()
        feeders = tuple(
            replace(item, container_ml=CONTAINER_ML) if hasattr(item, "container_ml") else item for item in params.feeders
        )
        self.plant = PoolPlant(replace(params, feeders=feeders), QUINCE_HOUSE_START, 3)
        self.loop = ClosedLoop.of(self.loaded, self.plant, use_mg_l_day=2.4)
        self.owner = Season.over(self.plant, self.loop)
        self.journal = Journal.open(self.loaded.journal_path)
        self.journal.mark_start(self.plant.utc, 0.0)
        self.recorder = Recorder(self.journal, self.loop.plan.site, Sheets.of(None, self.loaded), None, dry=False)

    def live(self, hours: float) -> Moment:
        """Lets hours pass, on record."""
        last: Moment | None = None
        for last in self.owner.moments(hours / 24.0):
            self.recorder.record(last.state, last.decision, last.snapshot)
        assert last is not None
        self.journal.flush()
        return last

    def ask(self, moment: Moment, days: float) -> int:
        """`dosectl leave`, with the daemon's view on the broker."""
        self.journal.close()
        site = self.loop.plan.site
        document = view_of(site, Texts(site.pool.time_zone), moment.state, moment.decision, {})
        broker = self.loaded.broker
        publish.single(Topics(broker.base).state, json.dumps(document), 1, True, broker.host, broker.port)
        status = dosectl(["leave", "--days", f"{days:g}", "--config", str(self.config)])
        print(f"\n(exit status {status})\n")
        return status


def good(folder: Path, port: int) -> None:
    """All done before the journey."""
    house = House(folder, port, called=True)
    house.owner.fills_up()
    house.live(24.0 * DAYS)
    for quantity, method in (("free_chlorine", "drops"), ("ph", "drops"), ("alkalinity", "drops"), ("stabiliser", "turbidity")):
        house.loop.water_test(quantity, method)
    house.loop.ask("water_test", (("quantity", "salt"), ("value", 3.2), ("method", "meter"), ("as_said", True)))
    for probe in ("orp", "ph"):
        house.loop.ask("calibrated", (("probe", probe),))
    house.owner.fills_up()
    moment = house.live(3.0)
    now = moment.state.working.last.utc
    put_test(house.loaded.journal_path, now, 1)
    with CallOutbox(house.loaded.journal_path) as outbox:
        (call,) = (item for item in outbox.open_calls() if item.code == "notify.test")
        assert house.loaded.notify is not None
        for way in (by_way(person.id, route.name) for person in house.loaded.notify.persons for route in person.routes):
            word = outbox.word_for(call.id, way, fresh_word(), now)
            facts, expires = (("code", word),), now + timedelta(hours=1)
            request = Request(RequestId(way), Code("answer_alarm"), facts, "phone", Place.REMOTE, expires)
            resolve(lambda: CallOutbox(house.loaded.journal_path), (JournalError,), request, now)
    house.ask(moment, 10.0)


def bad(folder: Path, port: int) -> None:
    """Most of it left undone."""
    house = House(folder, port, called=False)
    house.owner.away = True
    for quantity in ("free_chlorine", "ph"):
        house.loop.water_test(quantity, "drops")
    house.loop.ask("refill", (("feeder", "acid"), ("container_ml", 5000.0)))
    house.live(24.0 * (DAYS - 3.0))
    house.plant.set_fault("sample_line_shut", True)
    house.live(66.0)
    house.loop.ask("stop", ())
    house.plant.set_fault("probes_silent", True)
    house.ask(house.live(6.0), 14.0)


def main() -> None:
    logging.disable(logging.WARNING)
    for name, days, run in (("a good pool", 10, good), ("a bad pool", 14, bad)):
        print(f"==== {name}: dosectl leave --days {days}\n", flush=True)
        with tempfile.TemporaryDirectory() as folder, start_mosquitto(Path(folder) / "broker") as broker:
            run(Path(folder), broker.port)


if __name__ == "__main__":
    sys.exit(main())
