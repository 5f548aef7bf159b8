"""The command line's end of the bus: ask and get the daemon's reply, read the state, listen; every wait has a limit."""

import threading
from collections.abc import Iterator
from pathlib import Path

import pytest

from dosectl.bus.ask import Asker, NoBroker, NotAllowed
from dosectl.bus.items import LinkItem, RequestItem
from dosectl.model.reasons import Code
from dosectl.model.requests import Place, Reply
from tests.bus.bench import Bench, running, settings
from tests.services import Child, eventually, free_port, start_amqtt, start_mosquitto


@pytest.fixture(scope="module")
def broker(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Child]:
    with start_mosquitto(tmp_path_factory.mktemp("broker")) as child:
        yield child


def answer_requests(bench: Bench, ignore: int = 0) -> threading.Thread:
    """Answers the first request that is not ignored, as the daemon would."""

    def work() -> None:
        item = bench.wait(RequestItem, ignore + 1)[ignore]
        reply = Reply(item.request.id, True, Code("stop.done"), (("feeders", 2),), "")
        bench.bus.publish_reply(item.account, reply, f"Stopped by {item.request.by}.")

    thread = threading.Thread(target=work)
    thread.start()
    return thread


def test_a_request_gets_the_daemons_reply(broker: Child) -> None:
    made = settings(broker.port)
    with running(made) as bench:
        bench.wait_alive()
        thread = answer_requests(bench)
        with Asker(made) as asker:
            answer = asker.ask("cli", Place.CONSOLE, "stop", {"hard": True}, "ann")
        thread.join()
        assert answer is not None
        assert (answer.done, answer.code, answer.facts, answer.text) == (True, "stop.done", {"feeders": 2}, "Stopped by cli/ann.")
        assert bench.of(LinkItem)[-1].up  # the daemon's own connection was not thrown off


def test_a_lost_request_is_asked_again_with_the_same_id(broker: Child) -> None:
    made = settings(broker.port)
    with running(made) as bench:
        bench.wait_alive()
        thread = answer_requests(bench, ignore=1)
        with Asker(made, repeat_s=0.2) as asker:
            assert asker.ask("cli", Place.CONSOLE, "stop", {}, "ann") is not None
        thread.join()
        first, second = bench.of(RequestItem)[:2]
        assert first.request.id == second.request.id


def test_no_reply_is_none_and_not_done(broker: Child) -> None:
    with Asker(settings(broker.port)) as asker:
        assert asker.ask("cli", Place.CONSOLE, "stop", {}, "ann", limit_s=0.3) is None


def test_a_reply_to_another_request_is_not_ours(broker: Child) -> None:
    made = settings(broker.port)
    with running(made) as bench, Asker(made) as asker:
        bench.wait_alive()

        def work() -> None:
            item = bench.wait(RequestItem)[0]
            bench.bus.publish_reply("cli", Reply(item.request.id[::-1] + "x", True, Code("other"), (), ""), "")  # type: ignore[arg-type]

        thread = threading.Thread(target=work)
        thread.start()
        assert asker.ask("cli", Place.CONSOLE, "stop", {}, "ann", limit_s=0.6) is None
        thread.join()


def test_the_retained_state_is_read_and_none_is_said_to_be_none(broker: Child) -> None:
    made = settings(broker.port)
    with running(made) as bench:
        bench.wait_alive()
        with Asker(made) as asker:
            assert asker.state(limit_s=0.2) is None
        bench.bus.publish_state({"water": {"ph": 7.2}})
        with Asker(made) as asker:
            assert asker.state() == {"water": {"ph": 7.2}}


def test_listening_goes_on_over_a_broker_restart(tmp_path: Path) -> None:
    with start_mosquitto(tmp_path) as own, running(settings(own.port)) as bench:
        bench.wait_alive()
        with Asker(bench.bus._keeper._settings) as asker:
            heard = asker.listen((asker.topics.reply("x"),))
            reply = Reply("r", True, Code("c"), (), "")  # type: ignore[arg-type]
            thread = threading.Thread(target=lambda: eventually(lambda: bench.bus.publish_reply("x", reply, "one")))
            thread.start()
            assert b"one" in next(heard).payload
            thread.join()
            own.restart()
            ending = threading.Event()

            def again() -> None:
                while not ending.wait(0.1):
                    bench.bus.publish_reply("x", reply, "two")

            thread = threading.Thread(target=again)
            thread.start()
            try:
                assert b"two" in next(heard).payload
            finally:
                ending.set()
                thread.join()


def test_an_absent_broker_is_named_with_its_address() -> None:
    port = free_port()
    with pytest.raises(NoBroker, match=f"127.0.0.1:{port}.*refused"), Asker(settings(port), connect_s=0.5):
        pass


def test_a_wrong_password_is_named(tmp_path: Path) -> None:
    with (
        start_mosquitto(tmp_path, passwords={"cli": "right"}) as own,
        pytest.raises(NoBroker, match="Not authorized"),
        Asker(settings(own.port, username="cli", password="wrong")),
    ):
        pass


def test_an_account_that_may_not_ask_there_is_told(tmp_path: Path) -> None:
    made = settings(0)
    acl = f"user cli\ntopic write {made.base}/ask/cli/remote\ntopic read {made.base}/#\n"
    with (
        start_mosquitto(tmp_path, passwords={"cli": "p"}, acl=acl) as own,
        Asker(settings(own.port, base=made.base, username="cli", password="p")) as asker,
    ):
        with pytest.raises(NotAllowed, match="ask/cli/plant"):
            asker.ask("cli", Place.PLANT, "stop", {}, "ann")
        assert asker.ask("cli", Place.REMOTE, "stop", {}, "ann", limit_s=0.2) is None


def test_a_broker_of_3_1_1_is_asked_as_well(tmp_path: Path) -> None:
    with start_amqtt(tmp_path) as own, Asker(settings(own.port)) as asker:
        asker.publish(asker.topics.sim_fault, {"fault": "flow_lost", "on": True})
        assert asker.ask("cli", Place.CONSOLE, "stop", {}, "ann", limit_s=0.3) is None
