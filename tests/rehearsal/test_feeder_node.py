"""The node contract, whatever the messages: the daemon's last line."""

import json

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from dosectl.rehearsal.feeder_node import HOUR_MS, FeederLimits, FeederNode

CAP_S = 120.0
LIMITS = {
    "cell": FeederLimits("chlorine", hourly_run_s_max=CAP_S, expires_s_max=15.0),
    "acid": FeederLimits("acid", hourly_run_s_max=CAP_S, expires_s_max=15.0, percent=True),
}


def on(no: int, /, **changes: object) -> bytes:
    """A good ON that lives 10 s from counter 0; `changes` spoil it."""
    body: dict[str, object] = {
        "do": "on",
        "no": no,
        "owner": "home",
        "node_boot": "b7",
        "valid_until_ms": 10_000,
        "level": 1.0,
        "expires_s": 10.0,
    }
    return json.dumps({**body, **changes}).encode()


def off(no: int, owner: str = "home") -> bytes:
    return json.dumps({"do": "off", "no": no, "owner": owner}).encode()


def a_node() -> FeederNode:
    return FeederNode("b7", LIMITS)


def test_it_boots_off() -> None:
    node = a_node()
    assert node.outputs() == {}
    assert node.status(12) == {
        "boot": "b7",
        "ms": 12,
        "owner": "",
        "simulated": True,
        "feeders": {"cell": {"on": False, "no": 0}, "acid": {"on": False, "no": 0}},
    }


def test_a_good_on_is_obeyed_and_told() -> None:
    node = a_node()
    assert node.command("cell", on(17), False, 0).obeyed
    assert node.outputs() == {"cell": 1.0}
    status = node.status(5)
    assert status["owner"] == "home"
    assert status["feeders"] == {"cell": {"on": True, "no": 17}, "acid": {"on": False, "no": 0}}


def test_it_ends_a_feed_by_itself() -> None:
    node = a_node()
    node.command("cell", on(1), False, 0)
    assert not node.tick(9_999)
    assert node.tick(10_000)
    assert node.outputs() == {}


def test_a_renewal_goes_on_until_the_last_one_ends() -> None:
    node = a_node()
    for k in range(5):
        assert node.command("cell", on(k + 1, valid_until_ms=5_000 * k + 10_000), False, 5_000 * k).obeyed
    assert node.next_end_ms() == 30_000
    node.tick(29_999)
    assert node.outputs() == {"cell": 1.0}
    node.tick(30_000)
    assert node.outputs() == {}


def test_a_late_message_has_a_shorter_life_left() -> None:
    node = a_node()
    assert node.command("cell", on(1), False, 8_000).obeyed
    assert node.next_end_ms() == 10_000


@pytest.mark.parametrize(
    ("payload", "why"),
    [
        (on(1, node_boot="b6"), "another boot"),
        (on(1, node_boot=None), "another boot"),
        (on(1, valid_until_ms=1_000), "expired"),
        (on(1, valid_until_ms="later"), "expired"),
        (on(1, valid_until_ms=float("inf")), "expired"),
        (on(1, owner=""), "another owner"),
        (on(1, owner=None), "another owner"),
        (on(0), "old number"),
        (on(1, no=True), "old number"),
        (on(1, no=1.5), "old number"),
        (on(1, no=10**400), "old number"),
        (on(1, level=0), "no end or no level"),
        (on(1, level=1.01), "no end or no level"),
        (on(1, expires_s=0), "no end or no level"),
        (on(1, expires_s=None), "no end or no level"),
        (on(1, do="ON"), "not a command"),
        (b"on", "not a command"),
        (b"1", "not a command"),
        (b"[" * 4000, "not a command"),
        (b"\xff\xfe", "not a command"),
        (b" " * 5000 + on(1), "not a command"),
        (b"", "not a command"),
    ],
)
def test_a_spoilt_on_is_ignored(payload: bytes, why: str) -> None:
    node = a_node()
    answer = node.command("cell", payload, False, 1_000)
    assert (answer.obeyed, answer.why, node.outputs()) == (False, why, {})


def test_a_retained_on_is_ignored() -> None:
    node = a_node()
    assert node.command("cell", on(1), True, 0).why == "retained"
    assert node.outputs() == {}


def test_a_duplicate_and_an_older_on_are_ignored_even_after_off() -> None:
    node = a_node()
    node.command("cell", on(5), False, 0)
    node.command("cell", off(6), False, 10)
    for number in (5, 4, 6):
        assert node.command("cell", on(number), False, 20).why == "old number"
    assert node.outputs() == {}


def test_an_off_that_overtook_its_on_wins() -> None:
    node = a_node()
    assert node.command("cell", off(6), False, 0).obeyed
    assert node.command("cell", on(5), False, 1).why == "old number"


def test_off_is_obeyed_from_anyone_and_uses_up_no_number_of_the_owner() -> None:
    node = a_node()
    node.command("cell", on(5), False, 0)
    assert node.command("cell", off(99, owner="stranger"), False, 10).obeyed
    assert node.outputs() == {}
    assert node.command("cell", on(6), False, 20).obeyed


def test_a_second_owner_is_refused() -> None:
    node = a_node()
    node.command("cell", on(5), False, 0)
    node.command("cell", off(6), False, 1)
    assert node.command("cell", on(7, owner="other"), False, 2).why == "another owner"
    assert node.command("acid", on(7, owner="other"), False, 2).why == "another owner"


def test_acid_and_chlorine_never_run_together() -> None:
    node = a_node()
    node.command("cell", on(1), False, 0)
    assert node.command("acid", on(1), False, 1).why == "the other group runs"
    node.command("cell", off(2), False, 2)
    assert node.command("acid", on(2, level=0.4), False, 3).obeyed
    assert node.outputs() == {"acid": 0.4}


def test_the_hourly_cap_ends_a_feed_and_opens_again_as_the_hour_moves_on() -> None:
    node = a_node()
    now = number = 0
    while now < 300_000:
        number += 1
        node.command("cell", on(number, valid_until_ms=now + 10_000), False, now)
        now += 5_000
    assert node.outputs() == {}
    assert node.command("cell", on(number + 1, valid_until_ms=now + 10_000), False, now).why == "hourly cap"
    later = HOUR_MS + 60_000
    assert node.command("cell", on(number + 2, valid_until_ms=later + 10_000), False, later).obeyed


def test_the_hourly_cap_ends_a_feed_to_the_millisecond() -> None:
    node = a_node()
    for k in range(18):
        assert node.command("cell", on(k + 1, valid_until_ms=7_000 * k + 10_000), False, 7_000 * k).obeyed
    assert node.next_end_ms() == CAP_S * 1000


def test_a_late_off_does_not_open_the_way_for_an_older_on() -> None:
    node = a_node()
    node.command("cell", on(9), False, 0)
    node.command("cell", off(4), False, 1)
    assert node.command("cell", on(8), False, 2).why == "old number"


def test_a_relay_knows_no_half_output() -> None:
    node = a_node()
    node.command("cell", on(1, level=0.5), False, 0)
    assert node.outputs() == {"cell": 1.0}


def test_a_flood_of_owners_cannot_grow_the_memory() -> None:
    node = a_node()
    for k in range(1000):
        node.command("cell", off(1, owner=f"owner {k}"), False, k)
    assert node.command("cell", on(1), False, 2_000).why == "too many owners"


def test_an_unknown_feeder_is_ignored() -> None:
    assert a_node().command("hypo", on(1), False, 0).why == "unknown feeder"


COMMANDS = st.fixed_dictionaries(
    {
        "do": st.sampled_from(["on", "on", "on", "off", "toggle"]),
        "no": st.one_of(st.integers(-2, 60), st.sampled_from([True, None, 1.5])),
        "owner": st.sampled_from(["home", "home", "home", "other", "", None]),
        "node_boot": st.sampled_from(["b7", "b7", "b7", "b6", None]),
        "level": st.sampled_from([1.0, 1.0, 0.5, 0.0, -1.0, 2.0, None]),
        "expires_s": st.sampled_from([10.0, 10.0, 5.0, 3600.0, 0.0, -1.0, None]),
    }
)
EVENTS = st.lists(
    st.tuples(
        st.integers(0, 20_000),  # time passing before it [ms]
        st.sampled_from(["cell", "cell", "acid"]),
        COMMANDS,
        st.integers(-3_000, 30_000),  # valid until, from now [ms]
        st.sampled_from([False, False, False, True]),  # retained
    ),
    max_size=60,
)


@settings(max_examples=300, deadline=None)
@given(events=EVENTS)
def test_whatever_the_messages_the_contract_holds(events: list[tuple[int, str, dict[str, object], int, bool]]) -> None:
    node = a_node()
    now = 0
    highest: dict[tuple[str, object], float] = {}
    owner: object = ""
    covered: dict[str, int] = {"cell": 0, "acid": 0}  # each feeder may run until here at most
    ran: list[tuple[str, int]] = []  # sampled each 100 ms
    for wait_ms, feeder, fields, ahead_ms, retained in events:
        end = now + wait_ms
        for moment in range(now + 100, end, 100):
            node.tick(moment)
            for name in node.outputs():
                assert moment < covered[name]
                ran.append((name, moment))
            assert len(node.outputs()) <= 1
        now = end
        payload = json.dumps({**fields, "valid_until_ms": now + ahead_ms}).encode()
        was = set(node.outputs())
        answer = node.command(feeder, payload, retained, now)
        number = fields["no"]
        is_number = isinstance(number, int) and not isinstance(number, bool)
        good = (
            fields["do"] == "on"
            and not retained
            and fields["node_boot"] == "b7"
            and fields["owner"]
            and (owner in ("", fields["owner"]))
            and is_number
            and int(number) > highest.get((feeder, fields["owner"]), 0)  # type: ignore[call-overload]
            and ahead_ms > 0
        )
        if answer.obeyed and fields["do"] == "on":
            assert good
            owner = fields["owner"]
            covered[feeder] = min(now + ahead_ms, now + 15_000)
        if set(node.outputs()) - was:
            assert good
            assert answer.obeyed
        if fields["do"] == "off" and not retained:
            assert feeder not in node.outputs()
        if answer.obeyed and is_number and fields["owner"]:
            key = (feeder, fields["owner"])
            highest[key] = max(highest.get(key, 0), int(number))  # type: ignore[call-overload]
    node.tick(now + 15_000)
    assert node.outputs() == {}
    for name in ("cell", "acid"):
        moments = sorted(moment for feeder, moment in ran if feeder == name)
        for index, moment in enumerate(moments):
            in_hour = sum(1 for other in moments[index:] if other < moment + HOUR_MS)
            assert in_hour * 100 <= CAP_S * 1000 + 100 * len(events)  # a sample of doubt for each run
