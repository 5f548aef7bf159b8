"""What the client library and brokers do silently wrong: each has a test here that fails without its cure."""

import json
import socket
import threading
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import paho.mqtt.client as mqtt
import pytest

from dosectl.bus import link
from dosectl.bus.client import Bus
from dosectl.bus.items import ForeignItem, LinkItem, SampleItem
from dosectl.bus.keeper import LinkKeeper, Pace
from dosectl.bus.outbox import UNACKED_MAX
from dosectl.bus.topics import Topics
from dosectl.settings.broker import BrokerSettings
from tests.bus.bench import CELL, NODE, QUICK, Bench, off, on, running, settings, stamp, stranger, wiring
from tests.services import LOOPBACK, Child, eventually, free_port, start_amqtt, start_mosquitto


@pytest.fixture(scope="module")
def broker(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Child]:
    with start_mosquitto(tmp_path_factory.mktemp("broker")) as child:
        yield child


def client_of(bench: Bench) -> mqtt.Client:
    client = bench.bus._keeper._client
    assert client is not None
    return client


def hang_up(bench: Bench) -> None:
    """The connection breaks without a word."""
    sock = client_of(bench).socket()
    assert sock is not None
    sock.shutdown(socket.SHUT_RDWR)


def raising_once(monkeypatch: pytest.MonkeyPatch, name: str) -> list[str]:
    """Makes our own handler raise the first time it is called; what it raised is in the list."""
    inner = getattr(LinkKeeper, name)
    raised: list[str] = []

    def handler(self: LinkKeeper, *arguments: Any) -> None:
        if not raised:
            raised.append(name)
            raise RuntimeError(f"planted in {name}")
        inner(self, *arguments)

    monkeypatch.setattr(LinkKeeper, name, handler)
    return raised


@pytest.mark.parametrize(
    "name", ["_on_message", "_on_publish", "_on_connect", "_on_disconnect", "_on_pre_connect", "_on_socket_open"]
)
def test_an_exception_in_a_callback_is_counted_and_the_link_lives_on(
    broker: Child, monkeypatch: pytest.MonkeyPatch, name: str
) -> None:
    raised = raising_once(monkeypatch, name)
    with running(settings(broker.port)) as bench, stranger(broker.port) as other:
        bench.wait_alive()
        if name == "_on_disconnect":
            hang_up(bench)
        bench.bus.command(off())
        eventually(lambda: raised, what=f"{name} was called")
        eventually(lambda: bench.bus.callback_errors >= 1, what="it was counted")
        assert "bus.callback" in bench.bus.faults()

        def fresh() -> bool:
            other.publish("probe/ph", "7.2")
            return bool(bench.of(SampleItem))

        eventually(fresh, what="messages still arrive")
        bench.wait_alive()
        eventually(lambda: bench.bus.command(on()), what="commands still leave")
        assert bench.bus.callback_errors == 1


def test_an_exception_when_no_connection_comes_about_is_counted_too(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    raised = raising_once(monkeypatch, "_on_connect_fail")
    port = free_port()
    with running(settings(port)) as bench:
        eventually(lambda: raised, what="it was called")
        eventually(lambda: bench.bus.callback_errors == 1, what="it was counted")
        with start_mosquitto(tmp_path, port=port):
            bench.wait_alive()


def test_a_queue_that_refuses_items_costs_the_item_and_not_the_link(broker: Child) -> None:
    with running(settings(broker.port)) as bench, stranger(broker.port) as other:
        bench.wait_alive()

        def full(_: object) -> None:
            raise OverflowError("queue full")

        good, bench.bus._receiver._out = bench.bus._receiver._out, full
        other.publish("probe/ph", "7.1")
        eventually(lambda: bench.bus.callback_errors == 1, what="it was counted")
        bench.bus._receiver._out = good
        other.publish("probe/ph", "7.2")
        assert bench.wait(SampleItem)[0].sample.raw == 7.2


def test_the_librarys_own_net_is_on_as_well(broker: Child) -> None:
    with running(settings(broker.port)) as bench:
        bench.wait_alive()
        assert client_of(bench).suppress_exceptions


def test_a_client_whose_thread_has_died_is_replaced(broker: Child) -> None:
    pace = Pace(beat_s=0.05, echo_limit_s=0.5, reconnect_s=(0.2, 0.4), silent_beats=20)
    with running(settings(broker.port), pace=pace) as bench, stranger(broker.port) as other:
        bench.wait_alive()
        dead = client_of(bench)
        dead._thread_terminate = True  # ends its thread as an escaped exception would: the socket stays open
        dead._state = mqtt._ConnectionState.MQTT_CS_DISCONNECTING
        eventually(lambda: client_of_or_none(bench) not in (dead, None), what="it was replaced")
        bench.wait_alive()
        other.publish("probe/ph", "7.2")
        assert bench.wait(SampleItem)


def client_of_or_none(bench: Bench) -> mqtt.Client | None:
    return bench.bus._keeper._client


def test_an_on_asked_for_while_offline_is_refused_and_never_delivered_later(tmp_path: Path) -> None:
    with start_mosquitto(tmp_path) as own, running(settings(own.port)) as bench:
        bench.wait_alive()
        own.kill()
        eventually(lambda: not bench.of(LinkItem)[-1].up, what="the loss is noticed")
        assert not any(bench.bus.command(on(no=no)) for no in range(20))
        own.start()
        with stranger(own.port) as other:
            bench.wait_alive()
            eventually(lambda: bench.bus.command(on(no=99)), what="an ON of now leaves")
            assert [json.loads(seen.payload)["no"] for seen in other.wait(bench.bus.topics.command(CELL))] == [99]


def test_an_on_that_the_client_library_kept_is_thrown_away_before_the_new_connection_is_used(tmp_path: Path) -> None:
    """The link may break between our look at it and the sending: paho then answers "no connection" and keeps the message."""
    with start_mosquitto(tmp_path) as own, running(settings(own.port)) as bench:
        bench.wait_alive()
        own.kill()
        eventually(lambda: not bench.of(LinkItem)[-1].up, what="the loss is noticed")
        client = client_of(bench)
        for no in range(100):
            client.publish(bench.bus.topics.command(CELL), json.dumps({"do": "on", "no": no}), 1)
        assert len(client._out_messages) == link.QUEUED_MAX  # and what is kept is bounded
        own.start()
        with stranger(own.port) as other:
            bench.wait_alive()
            bench.bus.command(off(no=200))
            assert [json.loads(seen.payload)["no"] for seen in other.wait(bench.bus.topics.command(CELL))] == [200]


def test_an_off_that_found_no_link_is_the_first_message_on_the_next_and_an_on_is_not_on_it(broker: Child) -> None:
    bus = Bus(settings(broker.port), wiring(), lambda _: None, stamp, QUICK)
    assert not bus.command(on(no=1))
    assert not bus.command(off(no=2))
    bus.publish_state({"n": 1})
    with stranger(broker.port, f"{bus.topics.base}/#") as other:
        bus.start()
        try:
            other.wait(bus.topics.state)
            first = next(seen for seen in other.seen if seen.topic != bus.topics.echo)
            assert (first.topic, json.loads(first.payload)["no"]) == (bus.topics.command(CELL), 2)
            assert len(other.on(bus.topics.command(CELL))) == 1
            eventually(lambda: bus._sender.outbox.offs() == (), what="it was acknowledged and is not said again")
        finally:
            bus.stop()


def test_an_off_before_an_on_is_past(broker: Child) -> None:
    with running(settings(broker.port)) as bench, stranger(broker.port) as other:
        bench.wait_alive()
        bench.bus.command(off(no=1))
        other.wait(bench.bus.topics.command(CELL))
        assert bench.bus.command(on(no=2))
        other.wait(bench.bus.topics.command(CELL), 2)
        hang_up(bench)
        bench.wait_reconnected()
        bench.bus.command(off(no=3))
        numbers = [json.loads(seen.payload)["no"] for seen in other.wait(bench.bus.topics.command(CELL), 3)]
        assert numbers == [1, 2, 3]


def test_a_frozen_broker_is_dead_by_the_echo_while_the_client_says_it_is_connected(tmp_path: Path) -> None:
    with start_mosquitto(tmp_path) as own, running(settings(own.port)) as bench:
        bench.wait_alive()
        own.freeze()
        try:
            eventually(lambda: not bench.bus.alive(), what="the echo grows old")
            assert client_of(bench).is_connected()
            assert not bench.bus.command(on())
            age = bench.bus.echo_age_s()
            assert age is not None
            assert age > QUICK.echo_limit_s
        finally:
            own.thaw()
        bench.wait_alive()


def test_what_waited_while_nothing_was_answered_bars_the_next_on(tmp_path: Path) -> None:
    """paho holds a message back when 20 are unanswered; an ON held back would come late."""
    with start_mosquitto(tmp_path) as own:
        pace = Pace(beat_s=0.1, echo_limit_s=30.0, reconnect_s=(0.2, 0.4))
        with running(settings(own.port, keepalive_s=30), pace=pace) as bench:
            bench.wait_alive()
            own.freeze()
            try:
                sent = [bench.bus.command(on(no=no)) for no in range(1, 30)]
                assert sent.count(True) == UNACKED_MAX
                assert not sent[-1]
            finally:
                own.thaw()
            eventually(lambda: bench.bus.command(on(no=99)), what="an ON of now leaves")


def test_the_usual_limits_find_a_dead_link_within_seconds() -> None:
    assert Pace().echo_limit_s == 5.0
    assert Pace().reconnect_s[1] <= 10
    assert BrokerSettings("h", 1883, "b", "c").keepalive_s <= 10


def test_a_wrong_password_is_said_in_words_and_it_keeps_trying(tmp_path: Path) -> None:
    with start_mosquitto(tmp_path, passwords={"pool": "right"}) as own:
        with running(settings(own.port, username="pool", password="wrong")) as bench:
            eventually(lambda: "bus.refused" in bench.bus.faults(), what="the refusal stands")
            (reason,) = [r for r in bench.bus.fault_reasons() if r.code == "bus.refused"]
            assert reason.fact("text") == "Not authorized"
            assert not bench.bus.alive()
        with running(settings(own.port, username="pool", password="right")) as bench:
            bench.wait_alive()
            assert bench.bus.faults() == ()


def test_a_forbidden_publish_is_told_by_its_acknowledgement_only_and_becomes_a_fault(tmp_path: Path) -> None:
    made = settings(0, username="pool", password="p")
    topics = Topics(made.base)
    acl = f"user pool\ntopic readwrite {made.base}/daemon/#\ntopic read {made.base}/#\n"
    with start_mosquitto(tmp_path, passwords={"pool": "p"}, acl=acl) as own:
        allowed = settings(own.port, base=made.base, username="pool", password="p")
        with running(allowed) as bench:
            bench.wait_alive()
            assert bench.bus.command(off())
            eventually(lambda: "bus.forbidden" in bench.bus.faults(), what="the refusal stands")
            (reason,) = bench.bus.fault_reasons()
            assert (reason.fact("topic"), reason.fact("text")) == (topics.command(CELL), "Not authorized")


def test_a_forbidden_subscription_looks_granted_but_the_bus_is_not_believed_alive(tmp_path: Path) -> None:
    acl = "user pool\ntopic write #\n"
    account = {"username": "pool", "password": "p"}
    with start_mosquitto(tmp_path, passwords={"pool": "p"}, acl=acl) as own, running(settings(own.port, **account)) as bench:
        bench.wait(LinkItem)
        time.sleep(5 * QUICK.beat_s)
        assert client_of(bench).is_connected()
        assert not bench.bus.alive()
        assert not bench.bus.command(on())


def test_two_clients_with_one_id_are_named_as_what_they_are(broker: Child) -> None:
    made = settings(broker.port)
    with running(made) as bench:
        bench.wait_alive()
        with stranger(broker.port, client_id=made.client_id):
            eventually(lambda: "bus.takeover" in bench.bus.faults(), 30.0, "the take-over is named")
        (reason,) = [r for r in bench.bus.fault_reasons() if r.code == "bus.takeover"]
        assert reason.fact("client_id") == made.client_id


def test_one_broken_connection_is_no_take_over(broker: Child) -> None:
    with running(settings(broker.port)) as bench:
        bench.wait_alive()
        hang_up(bench)
        bench.wait_reconnected()
        assert "bus.takeover" not in bench.bus.faults()


def test_a_second_daemon_under_the_same_base_is_noticed(broker: Child) -> None:
    made = settings(broker.port)
    twin = settings(broker.port, base=made.base)
    with running(made) as bench, running(twin) as double:
        bench.wait_alive()
        double.wait_alive()
        eventually(lambda: "bus.twin" in bench.bus.faults(), what="the second daemon is noticed")


def test_a_broker_that_knows_only_3_1_1_is_spoken_to_in_it(tmp_path: Path) -> None:
    with start_amqtt(tmp_path) as own, running(settings(own.port)) as bench:
        bench.wait_alive()
        assert bench.bus.protocol == "3.1.1"
        with stranger(own.port, version=mqtt.MQTTv311) as other:
            assert bench.bus.command(on(no=7))
            (seen,) = other.wait(bench.bus.topics.command(CELL))
            assert json.loads(seen.payload)["expires_s"] == 10.0
            other.publish("probe/ph", "7.2")
            assert bench.wait(SampleItem)
            assert bench.of(ForeignItem) == []
            other.publish(bench.bus.topics.command(CELL), '{"do":"on","owner":"other"}')
            assert bench.wait(ForeignItem)[0].command.owner == "other"
            other.publish(bench.bus.topics.command(CELL), seen.payload)
            assert bench.wait(ForeignItem, 2)[1].command.owner == "pool-1"


def test_version_5_is_not_given_up_where_it_was_asked_for(tmp_path: Path) -> None:
    with start_amqtt(tmp_path) as own, running(settings(own.port, protocol="5", keepalive_s=1)) as bench:
        eventually(lambda: "bus.unreachable" in bench.bus.faults(), what="that there is no answer stands")
        assert "MQTT 5" in str(bench.bus.fault_reasons()[0].fact("text"))
        assert bench.bus.protocol == "5"


def test_3_1_1_can_be_asked_for(broker: Child) -> None:
    with running(settings(broker.port, protocol="3.1.1")) as bench, stranger(broker.port) as other:
        bench.wait_alive()
        assert bench.bus.protocol == "3.1.1"
        bench.bus.command(on())
        other.publish(bench.bus.topics.node_status(NODE), "{}")
        eventually(lambda: other.on(bench.bus.topics.command(CELL)), what="the command")
        assert bench.of(ForeignItem) == []


def test_a_broker_that_hangs_up_mute_on_version_5_is_tried_with_3_1_1(tmp_path: Path) -> None:
    """Old brokers close the socket on a version they do not know."""
    with socket.create_server((LOOPBACK, 0)) as mute:
        mute.settimeout(0.2)
        seen: list[int] = []
        ending = threading.Event()

        def serve() -> None:
            while not ending.is_set():
                try:
                    peer, _ = mute.accept()
                except TimeoutError:
                    continue
                with peer:
                    first = peer.recv(100)
                    if len(first) > 8:
                        seen.append(first[8])  # protocol level of the CONNECT packet: 5 or 4

        thread = threading.Thread(target=serve)
        thread.start()
        try:
            with running(settings(mute.getsockname()[1])):
                eventually(lambda: 4 in seen, what="a connect of 3.1.1")
            assert seen.count(5) == 2
        finally:
            ending.set()
            thread.join()


def test_a_broker_that_once_spoke_version_5_is_not_downgraded_for_being_away(tmp_path: Path) -> None:
    with start_mosquitto(tmp_path) as own, running(settings(own.port)) as bench:
        bench.wait_alive()
        own.restart()
        bench.wait_reconnected()
        assert bench.bus.protocol == "5"


def test_stopping_ends_while_the_broker_is_frozen(tmp_path: Path) -> None:
    with start_mosquitto(tmp_path) as own:
        with running(settings(own.port)) as bench:
            bench.wait_alive()
            own.freeze()
            bench.bus.stop(limit_s=3.0)
            assert not bench.bus.command(on())
        own.thaw()
