"""The link against a real broker: it comes up by itself, is believed by its echo only, and restores what is ours."""

import json
import socket
from collections.abc import Iterator
from pathlib import Path

import pytest

from dosectl.bus.commands import message_of
from dosectl.bus.items import DropItem, EchoItem, ForeignItem, LinkItem, NodeItem, RequestItem, SampleItem, TickItem
from dosectl.bus.topics import Topics
from dosectl.model.instant import Instant
from dosectl.model.reasons import Code
from dosectl.model.requests import Place, Reply, RequestId
from tests.bus.bench import ACID, CELL, NODE, PH, Stranger, off, on, running, settings, stamp, stranger, wiring
from tests.services import Child, certificates, eventually, free_port, make_mosquitto, start_mosquitto


@pytest.fixture(scope="module")
def broker(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Child]:
    with start_mosquitto(tmp_path_factory.mktemp("broker")) as child:
        yield child


@pytest.fixture
def other(broker: Child) -> Iterator[Stranger]:
    with stranger(broker.port) as wire:
        yield wire


def test_a_command_answered_by_feedback_goes_round_with_both_ends_undelayed(broker: Child, other: Stranger) -> None:
    with running(settings(broker.port)) as bench:
        bench.wait_alive()
        assert bench.bus.command(on())
        other.wait(bench.bus.topics.command(CELL))
        other.publish(bench.bus.topics.node_status(NODE), '{"boot":"b7","ms":1,"feeders":{"cell":{"on":true,"no":1}}}')
        assert bench.wait(NodeItem)[0].outputs[0].on
        client = bench.bus._keeper._client
        assert client is not None
        sock = client.socket()
        assert sock is not None
        assert sock.getsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY) == 1
    assert "set_tcp_nodelay true" in (broker.log.parent / "mosquitto.conf").read_text()


def test_no_delay_is_set_on_each_new_connection(tmp_path: Path) -> None:
    with start_mosquitto(tmp_path) as own, running(settings(own.port)) as bench:
        bench.wait_alive()
        own.restart()
        bench.wait_reconnected()
        client = bench.bus._keeper._client
        assert client is not None
        sock = client.socket()
        assert sock is not None
        assert sock.getsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY) == 1


def test_start_with_no_broker_raises_nothing_says_so_and_connects_when_there_is_one(tmp_path: Path) -> None:
    port = free_port()
    with running(settings(port)) as bench:
        eventually(lambda: "bus.unreachable" in bench.bus.faults(), what="the fault stands")
        (reason,) = bench.bus.fault_reasons()
        assert "refused" in str(reason.fact("text"))
        assert not bench.bus.alive()
        assert bench.bus.echo_age_s() is None
        late = make_mosquitto(tmp_path, port=port)
        late.start()
        try:
            bench.wait_alive()
            assert bench.bus.faults() == ()
        finally:
            late.kill()


def test_a_missing_certificate_file_is_a_fault_and_not_an_exception(broker: Child) -> None:
    with running(settings(broker.port, ca_file="/nowhere/ca.pem")) as bench:
        eventually(lambda: "bus.unreachable" in bench.bus.faults(), what="the fault stands")


def test_an_on_carries_its_expiry_for_the_broker_and_is_not_retained(broker: Child, other: Stranger) -> None:
    with running(settings(broker.port)) as bench:
        bench.wait_alive()
        assert bench.bus.command(on(expires_s=9.7))
        (seen,) = other.wait(bench.bus.topics.command(CELL))
        assert seen.expiry_s == 9
        assert json.loads(seen.payload)["expires_s"] == 9.7
        assert not seen.retained
        with stranger(broker.port, bench.bus.topics.command(CELL)) as late:
            bench.bus.command(off())
            assert json.loads(late.wait(bench.bus.topics.command(CELL))[0].payload)["do"] == "off"


def test_an_off_never_expires_and_may_be_said_again(broker: Child, other: Stranger) -> None:
    with running(settings(broker.port)) as bench:
        bench.wait_alive()
        assert bench.bus.command(off(no=5))
        assert bench.bus.command(off(no=5))
        seen = other.wait(bench.bus.topics.command(CELL), 2)
        assert [message.expiry_s for message in seen] == [None, None]
        assert all(message.qos == 1 for message in seen)


def test_a_relay_is_commanded_on_its_own_topic(broker: Child, other: Stranger) -> None:
    with running(settings(broker.port)) as bench:
        bench.wait_alive()
        before = len(other.on("relay/acid/set"))
        assert bench.bus.command(on(ACID))
        assert other.wait("relay/acid/set", before + 1)[-1].payload == b'{"on":true,"for":10}'


def test_the_own_commands_are_not_foreign_and_a_strangers_is(broker: Child, other: Stranger) -> None:
    with running(settings(broker.port)) as bench:
        bench.wait_alive()
        bench.bus.command(on())
        bench.bus.command(on(ACID))
        other.publish(bench.bus.topics.command(CELL), '{"do":"on","owner":"other"}')
        (item,) = bench.wait(ForeignItem)
        assert item.command.owner == "other"
        other.publish("relay/acid/set", '{"on":true,"for":10}')
        assert bench.wait(ForeignItem, 2)[1].command.topic == "relay/acid/set"


def test_a_retained_command_is_found_at_the_start_and_can_be_cleared(broker: Child, other: Stranger) -> None:
    made = settings(broker.port)
    topic = message_of(on(), Topics(made.base), "x", None, stamp().utc).topic
    other.publish(topic, '{"do":"on","owner":"old"}', retain=True)
    with running(made) as bench:
        (item,) = bench.wait(ForeignItem)
        assert item.retained
        bench.wait_alive()
        assert bench.bus.clear_retained(topic)
        bench.wait_settled()
        with stranger(broker.port, topic) as late:
            late.publish(topic, "marker")
            assert [message.payload for message in late.wait(topic)] == [b"marker"]


def test_a_retained_sample_is_marked_and_a_live_one_is_not(broker: Child, other: Stranger) -> None:
    topic = "probe/kept"
    other.publish(topic, "7.1", retain=True)
    bound = type(PH)(PH.signal, PH.kind, topic)
    with running(settings(broker.port), wiring(bound)) as bench:
        (first,) = bench.wait(SampleItem)
        bench.wait_alive()
        other.publish(topic, "7.2", retain=True)
        second = bench.wait(SampleItem, 2)[1]
        assert (first.sample.raw, first.sample.retained) == (7.1, True)
        assert (second.sample.raw, second.sample.retained) == (7.2, False)


def test_a_payload_of_300_kb_is_refused_counted_and_harms_nothing(broker: Child, other: Stranger) -> None:
    with running(settings(broker.port)) as bench:
        bench.wait_alive()
        other.publish("probe/ph", b"7" * 300_000)
        other.publish("probe/ph", b"\xff\x00")
        other.publish("probe/ph", "7.2")
        assert bench.wait(SampleItem)[0].sample.raw == 7.2
        assert [item.drop.why for item in bench.of(DropItem)] == ["payload.too_long", "payload.binary"]
        assert bench.bus.callback_errors == 0


def test_a_packet_beyond_the_limit_never_reaches_us_and_the_link_stays(broker: Child, other: Stranger) -> None:
    with running(settings(broker.port)) as bench:
        bench.wait_alive()
        other.publish("probe/ph", b"7" * 2_000_000)
        other.publish("probe/ph", "7.2")
        assert bench.wait(SampleItem)[0].sample.raw == 7.2
        assert bench.of(DropItem) == []


def test_requests_come_with_account_and_place_and_get_their_reply(broker: Child, other: Stranger) -> None:
    with running(settings(broker.port)) as bench:
        bench.wait_alive()
        body = {"id": "q1", "kind": "stop", "by": "ann", "expires_utc": "2030-01-01T00:00:00Z"}
        other.publish(bench.bus.topics.ask("page", Place.CONSOLE), json.dumps(body))
        (item,) = bench.wait(RequestItem)
        assert (item.account, item.request.place) == ("page", Place.CONSOLE)
        reply = Reply(RequestId("q1"), True, Code("stop.done"), (("feeders", 2),), "words")
        assert bench.bus.publish_reply("page", reply, "All feeding is stopped.")
        (seen,) = other.wait(bench.bus.topics.reply("page"))
        assert json.loads(seen.payload) == {
            "request": "q1",
            "done": True,
            "code": "stop.done",
            "facts": {"feeders": 2},
            "text": "All feeding is stopped.",
        }


def test_the_will_says_that_a_killed_daemon_is_gone_and_an_ended_one_says_so_itself(broker: Child, other: Stranger) -> None:
    made = settings(broker.port)
    topic = Topics(made.base).alive
    with running(made) as bench:
        assert other.wait(topic)[0].payload == b"1"
        client = bench.bus._keeper._client
        assert client is not None
        sock = client.socket()
        assert sock is not None
        sock.shutdown(socket.SHUT_RDWR)
        assert other.wait(topic, 2)[1].payload == b"0"
        assert other.wait(topic, 3)[2].payload == b"1"
    assert other.wait(topic, 4)[3].payload == b"0"
    with stranger(broker.port, topic) as late:
        (kept,) = late.wait(topic)
        assert (kept.payload, kept.retained) == (b"0", True)


def test_a_restarted_broker_gets_subscriptions_and_the_newest_own_state_back(tmp_path: Path) -> None:
    with start_mosquitto(tmp_path) as own, running(settings(own.port)) as bench:
        bench.wait_alive()
        bench.bus.publish_state({"n": 1})
        bench.bus.publish_alarm(Code("flow.lost"), {"present": True})
        own.kill()
        eventually(lambda: not bench.of(LinkItem)[-1].up, what="the loss is noticed")
        assert not bench.bus.publish_state({"n": 2})
        own.start()
        bench.wait_reconnected()
        bench.wait_alive()
        with stranger(own.port, f"{bench.bus.topics.base}/#") as late:
            (state,) = late.wait(bench.bus.topics.state)
            assert (json.loads(state.payload), state.retained) == ({"n": 2}, True)
            assert late.wait(bench.bus.topics.alarm(Code("flow.lost")))[0].retained
            assert late.wait(bench.bus.topics.alive)[0].payload == b"1"
            late.publish("probe/ph", "7.2")
            assert bench.wait(SampleItem)[0].sample.raw == 7.2


def test_tls_connects_with_the_right_authority_and_says_why_not_with_another(tmp_path: Path) -> None:
    right, wrong = certificates(tmp_path / "a"), certificates(tmp_path / "b")
    with start_mosquitto(tmp_path / "broker", tls=right) as own:
        with running(settings(own.port, ca_file=str(right.authority), host="localhost")) as bench:
            bench.wait_alive()
        with running(settings(own.port, ca_file=str(wrong.authority))) as bench:
            eventually(lambda: "bus.unreachable" in bench.bus.faults(), what="the fault stands")
            assert "certificate" in str(bench.bus.fault_reasons()[0].fact("text")).lower()
            assert not bench.bus.alive()


def test_the_start_and_the_loss_of_the_echo_are_told_once(tmp_path: Path) -> None:
    with start_mosquitto(tmp_path) as own, running(settings(own.port)) as bench:
        assert bench.wait(EchoItem)[0].alive
        own.kill()
        assert not bench.wait(EchoItem, 2)[1].alive
        own.start()
        assert bench.wait(EchoItem, 3)[2].alive
        assert len(bench.of(EchoItem)) == 3


def test_in_a_simulation_the_plants_tick_keeps_the_bus_alive_however_fast_its_time_runs(broker: Child, other: Stranger) -> None:
    now = [0.0]

    def plant_clock() -> Instant:
        return Instant(now[0], stamp().utc, "run")

    with running(settings(broker.port), wiring(demo=True), clock=plant_clock) as bench:
        bench.wait_alive()
        for no in range(1, 4):
            other.publish(bench.bus.topics.sim_tick, json.dumps({"n": no, "mono_s": no * 600.0, "utc": "2025-07-01T10:00:00Z"}))
            tick = bench.wait(TickItem, no)[no - 1]
            now[0] = tick.mono_s
            assert bench.bus.echo_age_s() == 0.0
            assert bench.bus.command(on(no=no))
            assert bench.bus.publish_done(no)
        assert json.loads(other.wait(bench.bus.topics.sim_done, 3)[2].payload) == {"n": 3}
