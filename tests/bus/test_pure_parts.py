"""Topics, commands, requests, node status and routing, without a broker."""

import json
from datetime import UTC, datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dosectl.bus import documents
from dosectl.bus.commands import Unsendable, message_of
from dosectl.bus.echo import Echo
from dosectl.bus.items import DropItem, ForeignItem, NodeItem, NodeOutput, RefusedItem, RequestItem, SampleItem, TickItem
from dosectl.bus.routing import Router
from dosectl.bus.topics import Topics
from dosectl.model.feeds import FeedOn
from dosectl.model.instant import Instant
from dosectl.model.requests import Place
from dosectl.model.signals import SignalId, SignalKind
from dosectl.settings.bindings import SignalBinding
from dosectl.settings.broker import RelayTemplate
from tests.bus.bench import ACID, CELL, NODE, PH, RELAY, off, on, wiring

AT = Instant(10.0, datetime(2025, 7, 1, 9, 15, 3, 250_000, tzinfo=UTC), "b")
T = Topics("dosectl/home")
GOOD = {
    "id": "a1",
    "kind": "test.add",
    "arguments": {"value": 7.2, "method": "strip"},
    "by": "ann",
    "expires_utc": "2025-07-01T10:00:00Z",
}


@pytest.mark.parametrize("base", ["", "/a", "a/", "a//b", "a/+", "#", "$SYS/x", "a\x00"])
def test_a_base_that_is_no_plain_topic_is_refused(base: str) -> None:
    with pytest.raises(ValueError, match="base topic"):
        Topics(base)


def test_names_are_those_of_the_contract() -> None:
    assert T.command(CELL) == "dosectl/home/feeder/cell/command"
    assert T.node_status(NODE) == "dosectl/home/node/shed/status"
    assert T.ask("phone", Place.REMOTE) == "dosectl/home/ask/phone/remote"
    assert T.reply("phone") == "dosectl/home/reply/phone"
    assert T.alive == "dosectl/home/daemon/alive"


def test_place_and_account_are_read_from_the_topic() -> None:
    assert T.asker("dosectl/home/ask/phone/plant") == ("phone", Place.PLANT)
    for topic in ("dosectl/home/ask/phone/roof", "dosectl/home/ask//plant", "dosectl/home/ask/a/b/plant", "other/ask/a/plant"):
        assert T.asker(topic) is None


def test_an_on_names_the_nodes_boot_its_own_end_and_its_owner() -> None:
    message = message_of(on(no=17), T, "pool-1", None, AT.utc)
    assert json.loads(message.payload) == {
        "do": "on",
        "no": 17,
        "owner": "pool-1",
        "node_boot": "b7",
        "valid_until_ms": 20_000,
        "level": 1.0,
        "expires_s": 10.0,
        "issued_utc": "2025-07-01T09:15:03.250Z",
    }
    assert (message.topic, message.energises, message.expires_s) == (T.command(CELL), True, 10)


def test_an_off_needs_nothing_of_the_node() -> None:
    message = message_of(off(no=18), T, "pool-1", None, AT.utc)
    assert json.loads(message.payload) == {"do": "off", "no": 18, "owner": "pool-1"}
    assert not message.energises


@pytest.mark.parametrize(
    "command",
    [
        FeedOn(CELL, 1, 1.0, 10.0, 1),
        on(expires_s=0.9),
        on(expires_s=float("inf")),
        on(expires_s=float("nan")),
        on(level=0.0),
        on(level=1.01),
        on(level=float("nan")),
    ],
)
def test_an_on_that_could_not_end_is_not_made(command: FeedOn) -> None:
    with pytest.raises(Unsendable):
        message_of(command, T, "pool-1", None, AT.utc)


def test_a_relay_gets_whole_seconds_rounded_down_in_a_payload_with_braces() -> None:
    message = message_of(on(ACID, expires_s=9.9), T, "pool-1", RELAY, AT.utc)
    assert (message.topic, message.payload) == ("relay/acid/set", b'{"on":true,"for":9}')
    assert message_of(off(ACID), T, "pool-1", RELAY, AT.utc).payload == b'{"on":false}'


def test_a_relay_with_a_level_gets_it_as_share_and_percent() -> None:
    relay = RelayTemplate(ACID, "r", "{seconds};{percent};{level}", "r", "0")
    assert message_of(on(ACID, level=0.29), T, "x", relay, AT.utc).payload == b"10;29;0.29"


def test_a_relay_payload_without_seconds_is_refused_for_it_would_never_end() -> None:
    with pytest.raises(Unsendable, match="seconds"):
        message_of(on(ACID), T, "x", RelayTemplate(ACID, "r", "ON", "r", "OFF"), AT.utc)


@given(level=st.floats(), expires_s=st.floats(), boot=st.none() | st.text(max_size=5), until=st.none() | st.integers(0, 2**40))
def test_every_on_that_is_made_ends_within_what_was_granted(
    level: float, expires_s: float, boot: str | None, until: int | None
) -> None:
    command = FeedOn(CELL, 1, level, expires_s, 1, boot, until)
    for relay in (None, RELAY):
        try:
            message = message_of(command, T, "x", relay, AT.utc)
        except Unsendable:
            continue
        assert message.expires_s is not None
        assert 1 <= message.expires_s <= expires_s


def ask(body: object, retained: bool = False, topic: str = "dosectl/home/ask/phone/remote") -> object:
    payload = body if isinstance(body, bytes) else json.dumps(body).encode()
    (item,) = Router(wiring(), T).items(topic, payload, retained, AT, has_own=False)
    return item


def test_a_request_takes_its_place_and_account_from_the_topic() -> None:
    item = ask(GOOD)
    assert isinstance(item, RequestItem)
    assert (item.account, item.request.place, item.request.by) == ("phone", Place.REMOTE, "phone/ann")
    assert item.request.arguments == (("value", 7.2), ("method", "strip"))
    assert item.request.expires_utc == datetime(2025, 7, 1, 10, tzinfo=UTC)


@pytest.mark.parametrize(
    "change",
    [
        {"place": "plant"},
        {"account": "owner"},
        {"expires_utc": "2025-07-01T10:00:00"},
        {"expires_utc": None},
        {"kind": "Test Add"},
        {"arguments": {"value": None}},
        {"arguments": {"value": [1]}},
        {"arguments": {"V": 1}},
        {"by": 7},
        {"by": "x" * 81},
    ],
)
def test_a_request_of_another_form_is_refused_with_a_reply_to_its_id(change: dict[str, object]) -> None:
    item = ask({**GOOD, **change})
    assert isinstance(item, RefusedItem)
    assert (item.reply.request, item.reply.done, item.reply.code) == ("a1", False, "ask.form")
    assert next(iter(change)) in item.text


@pytest.mark.parametrize("payload", [b"", b"{", b"[]", b"\xff", b'{"id":"' + b"x" * 20_000 + b'"}', b'{"id":NaN}', b"[" * 5000])
def test_a_request_that_cannot_be_read_is_refused_and_harms_nothing(payload: bytes) -> None:
    item = ask(payload)
    assert isinstance(item, RefusedItem)
    assert item.reply.request == ""
    assert item.account == "phone"


def test_numbers_that_json_does_not_have_are_refused_in_arguments() -> None:
    assert isinstance(ask(json.dumps({**GOOD, "arguments": {"value": float("nan")}}).encode()), RefusedItem)


def test_a_retained_request_is_dropped_for_it_would_be_asked_at_every_start() -> None:
    item = ask(GOOD, retained=True)
    assert isinstance(item, DropItem)
    assert item.drop.why == "message.retained"


@given(payload=st.binary(max_size=300))
def test_whatever_the_bytes_of_our_own_documents_nothing_is_raised(payload: bytes) -> None:
    assert isinstance(ask(payload), RefusedItem | RequestItem)
    assert isinstance(documents.node_status(NODE, "t", payload, AT, False), DropItem | NodeItem)
    assert isinstance(documents.tick("t", payload, AT, False), DropItem | TickItem)
    Echo().hear(payload)


STATUS = {"boot": "b7", "ms": 113456, "owner": "pool-1", "simulated": True, "feeders": {"cell": {"on": False, "no": 16}}}


def status(body: object, retained: bool = False) -> object:
    payload = json.dumps(body).encode()
    (item,) = Router(wiring(), T).items(T.node_status(NODE), payload, retained, AT, has_own=False)
    return item


def test_a_nodes_status_is_read() -> None:
    item = status(STATUS)
    assert isinstance(item, NodeItem)
    assert (item.report.boot, item.report.ms, item.report.owner, item.report.simulated) == ("b7", 113456, "pool-1", True)
    assert item.outputs == (NodeOutput(CELL, False, 16),)
    assert item.report.numbers == (("cell", 16),)


def test_a_node_may_say_more_than_it_must() -> None:
    assert isinstance(status({**STATUS, "rssi": -60}), NodeItem)


@pytest.mark.parametrize(
    "change", [{"ms": -1}, {"ms": 1.5}, {"ms": True}, {"boot": ""}, {"feeders": {"cell": {"on": 1, "no": 1}}}]
)
def test_a_status_with_a_wrong_part_is_dropped(change: dict[str, object]) -> None:
    item = status({**STATUS, **change})
    assert isinstance(item, DropItem)
    assert item.drop.why == "payload.node_status"


def test_a_retained_status_says_nothing_of_now() -> None:
    item = status(STATUS, retained=True)
    assert isinstance(item, DropItem)
    assert item.drop.why == "message.retained"


def test_a_foreign_command_is_noticed_with_its_owner() -> None:
    items = Router(wiring(), T).items(T.command(CELL), b'{"do":"on","owner":"other"}', False, AT, has_own=False)
    (item,) = items
    assert isinstance(item, ForeignItem)
    assert (item.command.owner, item.retained) == ("other", False)


def test_a_retained_command_is_noticed_and_its_clearing_is_not_one() -> None:
    router = Router(wiring(), T)
    (item,) = router.items(T.command(CELL), b"ON", True, AT, has_own=False)
    assert isinstance(item, ForeignItem)
    assert item.retained
    assert router.items(T.command(CELL), b"", False, AT, has_own=False) == ()


def test_where_the_broker_returns_our_own_each_copy_counts_once() -> None:
    router = Router(wiring(), T)
    router.note_own("relay/acid/set", b"x")
    assert router.items("relay/acid/set", b"x", False, AT, has_own=True) == ()
    (item,) = router.items("relay/acid/set", b"x", False, AT, has_own=True)
    assert isinstance(item, ForeignItem)


def test_other_traffic_of_ours_does_not_push_a_command_out_of_the_memory() -> None:
    router = Router(wiring(), T)
    router.note_own("relay/acid/set", b"x")
    for _ in range(1000):
        router.note_own(T.state, b"{}")
    assert router.items("relay/acid/set", b"x", False, AT, has_own=True) == ()


def test_several_signals_share_a_topic_and_are_subscribed_once() -> None:
    orp = SignalBinding(SignalId("orp"), SignalKind.ORP, "probe/ph")
    router = Router(wiring(PH, orp), T)
    assert [topic for topic, _ in router.subscriptions()].count("probe/ph") == 1
    items = router.items("probe/ph", b"7.2", False, AT, has_own=False)
    assert [item.sample.signal for item in items if isinstance(item, SampleItem)] == ["ph", "orp"]


def test_only_a_demo_listens_to_the_simulated_clock() -> None:
    tick = b'{"n":3,"mono_s":60.0,"utc":"2025-07-01T10:00:00Z"}'
    assert T.sim_tick not in dict(Router(wiring(), T).subscriptions())
    assert Router(wiring(), T).items(T.sim_tick, tick, False, AT, has_own=False) == ()
    demo = Router(wiring(demo=True), T)
    assert T.sim_tick in dict(demo.subscriptions())
    assert demo.items(T.sim_tick, tick, False, AT, has_own=False) == (TickItem(3, 60.0, datetime(2025, 7, 1, 10, tzinfo=UTC)),)


def test_a_heartbeat_counts_from_when_it_was_sent() -> None:
    echo = Echo()
    sent = echo.payload(Instant(100.0, AT.utc, "b"))
    assert echo.age_s(Instant(100.0, AT.utc, "b")) is None
    assert echo.hear(sent) is not None
    assert echo.age_s(Instant(107.0, AT.utc, "b")) == 7.0
    assert echo.age_s(Instant(107.0, AT.utc, "c")) is None


def test_a_made_up_heartbeat_does_not_keep_a_dead_bus_alive() -> None:
    echo = Echo()
    body = json.loads(echo.payload(Instant(100.0, AT.utc, "b")))
    assert echo.hear(json.dumps({**body, "mono_s": 1e9}).encode()) is None
    assert echo.age_s(Instant(100.0, AT.utc, "b")) is None
