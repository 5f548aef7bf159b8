"""What the plant's nodes say and hear, message by message."""

import itertools
import json
import math
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest

from dosectl.pool_model.plant import PoolPlant
from dosectl.pool_model.scenarios import QUINCE_HOUSE_START, quince_house
from dosectl.rehearsal.feeder_node import FeederLimits
from dosectl.rehearsal.nodes import Outgoing, PlantNodes

BASE = "dosectl/here"


def some_nodes(hypochlorite: bool = False, limits: dict[str, FeederLimits] | None = None) -> PlantNodes:
    """Quince House ten minutes after its start, with everything due said."""
    nodes = PlantNodes(PoolPlant(quince_house(hypochlorite), QUINCE_HOUSE_START, 1), BASE, limits)
    for _ in range(200):
        nodes.due()
        nodes.advance(3.0)
    nodes.due()
    return nodes


def bodies(messages: list[Outgoing], leaf: str) -> list[dict[str, Any]]:
    return [json.loads(message.payload) for message in messages if message.topic == f"{BASE}/{leaf}"]


def holds_a_ph(payload: bytes) -> bool:
    """A number of its own kind, finite, under the name."""
    try:
        ph = json.loads(payload)["ph"]
    except (ValueError, KeyError):
        return False
    return isinstance(ph, float) and math.isfinite(ph)


def on(nodes: PlantNodes, no: int, feeder: str = "cell", expires_s: float = 10.0) -> list[Outgoing]:
    command = {
        "do": "on",
        "no": no,
        "owner": "home",
        "node_boot": nodes.node.boot,
        "valid_until_ms": nodes.node_ms + int(expires_s * 1000),
        "level": 1.0,
        "expires_s": expires_s,
    }
    return nodes.command(feeder, json.dumps(command).encode(), False)


def run(nodes: PlantNodes, seconds: float, step_s: float = 3.0) -> list[Outgoing]:
    said = []
    for _ in range(round(seconds / step_s)):
        nodes.advance(step_s)
        said += nodes.due()
    return said


def test_each_message_has_its_period() -> None:
    said = run(some_nodes(), 3600.0)
    counts = {leaf: len(bodies(said, leaf)) for leaf in ("probes/water", "probes/slow", "pump_room/levels", "sim/truth")}
    assert counts == {"probes/water": 360, "probes/slow": 60, "pump_room/levels": 60, "sim/truth": 60}
    assert len(bodies(said, "pump_room/state")) == 1200
    assert len(bodies(said, "node/feeders/status")) == 720
    assert not any(message.retain for message in said)


def test_payloads_carry_values_sequence_and_time() -> None:
    said = run(some_nodes(), 60.0)
    water = bodies(said, "probes/water")
    assert set(water[0]) == {"orp_mv", "ph", "seq", "utc"}
    assert [later["seq"] > earlier["seq"] for earlier, later in itertools.pairwise(water)] == [True] * 5
    state = bodies(said, "pump_room/state")[0]
    assert set(state) == {"flow", "pump_w", "cell_a", "acid_running", "seq", "utc"}
    assert (state["flow"], state["pump_w"]) == (True, 650)
    at = datetime.fromisoformat(water[-1]["utc"])
    assert at.utcoffset() == timedelta(0)
    assert QUINCE_HOUSE_START + timedelta(seconds=600) < at <= QUINCE_HOUSE_START + timedelta(seconds=660)
    assert set(bodies(said, "probes/slow")[0]) == {"temp_c", "salt_g_l", "cover_closed", "seq", "utc"}
    assert bodies(said, "pump_room/levels")[0]["acid_percent"] == pytest.approx(100.0, abs=0.1)
    assert bodies(said, "sim/truth")[0]["simulated"] is True


def test_a_command_is_answered_at_once_by_status_and_load() -> None:
    nodes = some_nodes()
    said = on(nodes, 1)
    status = bodies(said, "node/feeders/status")[0]
    assert status["feeders"]["cell"] == {"on": True, "no": 1}
    assert status["simulated"] is True
    assert status["ms"] == 600_000
    assert bodies(said, "pump_room/state")[0]["cell_a"] > 3.0


def test_a_retained_command_moves_nothing() -> None:
    nodes = some_nodes()
    command = {"do": "on", "no": 1, "owner": "home", "node_boot": "b1", "valid_until_ms": 10**9, "level": 1.0, "expires_s": 9.0}
    assert nodes.command("cell", json.dumps(command).encode(), True) == []
    assert nodes.plant.signals()["cell_a"] == 0.0


def test_a_feed_ends_in_time_within_a_long_step_and_is_told() -> None:
    nodes = some_nodes()
    on(nodes, 1, expires_s=10.0)
    nodes.advance(60.0)
    said = nodes.due()
    assert bodies(said, "node/feeders/status")[0]["feeders"]["cell"]["on"] is False
    assert bodies(said, "pump_room/state")[0]["cell_a"] == 0.0
    assert nodes.plant.truth().fed_chlorine_g == pytest.approx(20.0 * 10.0 / 3600.0, rel=0.01)


def test_flow_lost_is_told_at_once() -> None:
    nodes = some_nodes()
    assert bodies(nodes.set_fault("flow_lost", True), "pump_room/state")[0]["flow"] is False
    assert nodes.faults == ("flow_lost",)
    assert bodies(nodes.set_fault("flow_lost", False), "pump_room/state")[0]["flow"] is True
    assert nodes.faults == ()


def test_a_blink_of_flow_is_two_edges_200_ms_apart() -> None:
    nodes = some_nodes()
    down = bodies(nodes.set_fault("flow_blink", True), "pump_room/state")
    nodes.advance(0.2)
    up = bodies(nodes.due(), "pump_room/state")
    assert [body["flow"] for body in down + up] == [False, True]
    times = [datetime.fromisoformat(body["utc"]) for body in down + up]
    assert times[1] - times[0] == timedelta(milliseconds=200)


def test_a_silent_node_neither_hears_nor_speaks_but_ends_its_feed() -> None:
    nodes = some_nodes()
    on(nodes, 1)
    nodes.set_fault("node_silent", True)
    assert on(nodes, 2) == []
    said = run(nodes, 30.0)
    assert bodies(said, "node/feeders/status") == []
    assert bodies(said, "pump_room/state")[-1]["cell_a"] == 0.0
    nodes.set_fault("node_silent", False)
    assert bodies(run(nodes, 6.0), "node/feeders/status")


def test_a_reboot_switches_off_changes_the_boot_and_starts_the_counter_anew() -> None:
    nodes = some_nodes()
    on(nodes, 1)
    old_boot = nodes.node.boot
    said = nodes.set_fault("node_reboot", True)
    assert bodies(said, "pump_room/state")[0]["cell_a"] == 0.0
    assert on(nodes, 2) == []
    status = bodies(run(nodes, 6.0), "node/feeders/status")[0]
    assert status["boot"] != old_boot
    assert status["ms"] <= 6_000
    assert status["owner"] == ""
    assert on(nodes, 1)


def test_clock_faults_shift_times_and_nothing_else() -> None:
    nodes = some_nodes()
    nodes.set_fault("probes_clock_behind", True)
    said = run(nodes, 30.0)
    behind = datetime.fromisoformat(bodies(said, "probes/water")[-1]["utc"])
    right = datetime.fromisoformat(bodies(said, "pump_room/state")[-1]["utc"])
    assert timedelta(minutes=9) < right - behind < timedelta(minutes=11)
    nodes.set_fault("probes_clock_behind", False)
    before, counter = nodes.utc, nodes.node_ms
    nodes.set_fault("clock_jump", True)
    assert nodes.utc - before == timedelta(hours=3)
    assert nodes.node_ms == counter
    assert nodes.plant.utc == before


def test_a_retained_replay_is_the_first_reading_word_for_word_and_is_cleared() -> None:
    nodes = PlantNodes(PoolPlant(quince_house(), QUINCE_HOUSE_START, 1), BASE)
    first = next(message for message in nodes.due() if message.topic.endswith("probes/water"))
    run(nodes, 600.0)
    assert nodes.set_fault("retained_replay", True)[-1] == Outgoing(first.topic, first.payload, retain=True)
    assert nodes.set_fault("retained_replay", False)[-1] == Outgoing(first.topic, b"", retain=True)


def test_repeated_messages_are_the_same_to_the_last_byte() -> None:
    nodes = some_nodes()
    nodes.set_fault("messages_repeated", True)
    said = [message.payload for message in run(nodes, 60.0) if message.topic.endswith("probes/water")]
    assert len(said) == 6
    assert len(set(said)) == 1


def test_garbled_messages_hold_no_number() -> None:
    nodes = some_nodes()
    nodes.set_fault("messages_garbled", True)
    said = {message.payload for message in run(nodes, 120.0) if message.topic.endswith("probes/water")}
    assert len(said) >= 5
    assert not [payload for payload in said if holds_a_ph(payload)]


def test_a_second_controller_is_heard_and_refused_by_the_node() -> None:
    nodes = some_nodes()
    on(nodes, 1)
    nodes.command("cell", b'{"do":"off","no":2,"owner":"home"}', False)
    nodes.set_fault("second_controller", True)
    foreign = [message for message in run(nodes, 30.0) if message.topic == nodes.command_topic("cell")]
    assert len(foreign) == 6
    assert json.loads(foreign[0].payload)["owner"] == "another"
    assert nodes.command("cell", foreign[-1].payload, False) == []
    assert nodes.plant.signals()["cell_a"] == 0.0


def test_silent_probes_send_nothing() -> None:
    nodes = some_nodes()
    nodes.set_fault("probes_silent", True)
    said = run(nodes, 120.0)
    assert not [message for message in said if "/probes/" in message.topic]


def test_the_acid_pump_is_capped_by_its_own_node() -> None:
    nodes = some_nodes()
    for k in range(720):
        on(nodes, k + 1, "acid")
        nodes.advance(5.0)
    # 1.2 L/h of 221 g/L for half of the hour, in 50 m3: within the 5 mg/L an hour that a bounded acid feeder may give.
    fed_mg_l = nodes.plant.truth().fed_acid_g / 50.0
    assert fed_mg_l == pytest.approx(2.65, abs=0.05)


def test_its_own_end_leaves_everything_off_and_says_so() -> None:
    nodes = some_nodes()
    on(nodes, 1)
    said = nodes.all_off()
    assert bodies(said, "node/feeders/status")[0]["feeders"]["cell"]["on"] is False
    assert bodies(said, "pump_room/state")[0]["cell_a"] == 0.0


def test_an_unknown_fault_changes_nothing() -> None:
    nodes = some_nodes()
    with pytest.raises(KeyError, match="known are"):
        nodes.set_fault("gremlins", True)
    assert nodes.faults == ()


def test_a_plant_with_a_hypochlorite_pump_speaks_of_it() -> None:
    nodes = some_nodes(hypochlorite=True)
    on(nodes, 1, "hypo")
    nodes.advance(3.0)
    assert nodes.plant.signals()["hypo_running"] is True
    assert QUINCE_HOUSE_START.tzinfo is UTC
