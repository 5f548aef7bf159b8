"""The access list that we ship: the daemon and the owner can do their work, and nobody else can command a feeder."""

import threading
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from dosectl.bus.ask import Asker, NotAllowed
from dosectl.bus.items import NodeItem, RequestItem
from dosectl.bus.wiring import Wiring
from dosectl.model.reasons import Code
from dosectl.model.requests import Place, Reply
from dosectl.model.signals import NodeId
from dosectl.settings.broker import BrokerSettings
from tests.bus.bench import CELL, PH, off, on, running, settings, stranger
from tests.services import Child, start_mosquitto

SHIPPED = Path(__file__).parents[2] / "deploy" / "broker"
ACCOUNTS = ("dosectl", "plantroom", "probes", "owner", "hub")


@pytest.fixture(scope="module")
def broker(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Child]:
    acl = (SHIPPED / "dosectl.acl").read_text(encoding="utf-8")
    with start_mosquitto(tmp_path_factory.mktemp("shipped"), passwords=dict.fromkeys(ACCOUNTS, "p"), acl=acl) as child:
        yield child


def as_account(broker: Child, name: str) -> BrokerSettings:
    return settings(broker.port, base="dosectl/home", username=name, password="p")


def wired() -> Wiring:
    return Wiring("pool-1", (replace(PH, topic="home/probes/ph"),), (CELL,), (NodeId("plantroom"),))


def test_the_daemon_is_alive_and_forbidden_nothing(broker: Child) -> None:
    with running(as_account(broker, "dosectl"), wired()) as bench:
        bench.wait_alive()
        bench.bus.command(off())
        bench.bus.publish_state({"n": 1})
        bench.bus.publish_alarm(Code("flow.lost"), None)
        bench.wait_settled()
        assert bench.bus.faults() == ()
        with stranger(broker.port, "dosectl/home/feeder/+/command", user=("plantroom", "p")) as node:
            node.publish("dosectl/home/node/plantroom/status", '{"boot":"b","ms":1,"feeders":{}}')
            assert bench.wait(NodeItem)
            assert bench.bus.command(on())
            assert node.wait(bench.bus.topics.command(CELL))


def test_the_owner_may_ask_at_the_console_and_the_hub_only_from_afar(broker: Child) -> None:
    with running(as_account(broker, "dosectl"), wired()) as bench:
        bench.wait_alive()

        def answer() -> None:
            item = bench.wait(RequestItem)[0]
            bench.bus.publish_reply(item.account, Reply(item.request.id, True, Code("stop.done"), (), ""), "Stopped.")

        thread = threading.Thread(target=answer)
        thread.start()
        with Asker(as_account(broker, "owner")) as asker:
            reply = asker.ask("owner", Place.CONSOLE, "stop", {}, "ann")
        thread.join()
        assert reply is not None
        assert reply.done
        with Asker(as_account(broker, "hub")) as asker, pytest.raises(NotAllowed):
            asker.ask("hub", Place.CONSOLE, "stop", {}, "ann")
        with Asker(as_account(broker, "hub")) as asker, pytest.raises(NotAllowed):
            asker.ask("owner", Place.CONSOLE, "stop", {}, "ann")


@pytest.mark.parametrize("account", [name for name in ACCOUNTS if name != "dosectl"])
def test_nobody_but_the_daemon_may_command_a_feeder(broker: Child, account: str) -> None:
    with Asker(as_account(broker, account)) as asker, pytest.raises(NotAllowed):
        asker.publish(asker.topics.command(CELL), {"do": "on"})


def test_the_shipped_broker_does_not_wait_for_delayed_acknowledgements() -> None:
    assert "set_tcp_nodelay true" in (SHIPPED / "mosquitto.conf").read_text(encoding="utf-8").splitlines()
