"""The simulated pool as a real process at a real broker."""

import json
import signal
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import paho.mqtt.client as mqtt
import pytest
from paho.mqtt.enums import CallbackAPIVersion

from tests.services import Child, eventually, start_mosquitto

pytestmark = pytest.mark.system
BASE = "pool/test"


class Ear:
    """A client that hears everything below the base and may answer ticks as a daemon would."""

    def __init__(self, port: int) -> None:
        self.answering = False
        self.heard: list[tuple[str, dict[str, Any]]] = []
        self.tick = 0
        self.subscribed = False
        self.client = mqtt.Client(CallbackAPIVersion.VERSION2, protocol=mqtt.MQTTv5)
        self.client.on_message = self._on_message
        self.client.on_subscribe = self._on_subscribe
        self.client.on_connect = self._on_connect
        self.client.reconnect_delay_set(1, 1)
        self.client.connect("127.0.0.1", port)
        self.client.loop_start()
        eventually(lambda: self.subscribed)

    def _on_connect(self, client: mqtt.Client, *_arguments: object) -> None:
        client.subscribe(f"{BASE}/#")

    def _on_subscribe(self, *_arguments: object) -> None:
        self.subscribed = True

    def _on_message(self, _client: object, _userdata: object, message: mqtt.MQTTMessage) -> None:
        leaf = message.topic.removeprefix(f"{BASE}/")
        body = json.loads(message.payload) if message.payload else {}
        self.heard.append((leaf, body if isinstance(body, dict) else {"value": body}))
        if leaf == "sim/tick":
            self.tick = body["n"]
            if self.answering:
                self.done(body["n"])

    def done(self, n: int) -> None:
        self.say("sim/done", {"n": n})

    def say(self, leaf: str, body: dict[str, Any]) -> None:
        self.client.publish(f"{BASE}/{leaf}", json.dumps(body))

    def of(self, leaf: str) -> list[dict[str, Any]]:
        return [body for topic, body in list(self.heard) if topic == leaf]

    def close(self) -> None:
        self.client.disconnect()
        self.client.loop_stop()


@pytest.fixture(scope="module")
def broker(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Child]:
    with start_mosquitto(tmp_path_factory.mktemp("broker")) as child:
        yield child


@contextmanager
def running_pool(broker: Child, *arguments: str) -> Iterator[tuple[subprocess.Popen[bytes], Ear]]:
    """The process and an ear that was there before it."""
    ear = Ear(broker.port)
    process = subprocess.Popen(
        [sys.executable, "-m", "dosectl.rehearsal.sim_process", "--port", str(broker.port), "--base", BASE, *arguments],
        stdout=subprocess.DEVNULL,
        cwd=Path(__file__).parents[2],
    )
    try:
        yield process, ear
    finally:
        process.kill()
        process.wait()
        ear.close()


@pytest.mark.parametrize("protocol", ["5", "3.1.1"])
def test_time_stands_still_until_the_daemon_answers(broker: Child, protocol: str) -> None:
    with running_pool(broker, "--speed", "1e9", "--protocol", protocol) as (_process, ear):
        eventually(lambda: ear.tick == 1)
        # Nobody answers: the same tick comes again, and no other.
        eventually(lambda: len(ear.of("sim/tick")) >= 2)
        assert {body["n"] for body in ear.of("sim/tick")} == {1}
        assert len(ear.of("probes/water")) == 1
        ear.answering = True
        ear.done(1)
        eventually(lambda: ear.tick > 300)
    ticks = ear.of("sim/tick")
    assert [tick["mono_s"] for tick in ticks[-3:]] == [3.0 * (tick["n"] - 1) for tick in ticks[-3:]]
    assert len(ear.of("pump_room/state")) >= 300
    assert ear.of("sim/truth")[0]["simulated"] is True


def test_all_messages_of_an_instant_come_before_its_tick(broker: Child) -> None:
    with running_pool(broker, "--speed", "1e9") as (_process, ear):
        ear.answering = True
        eventually(lambda: ear.tick > 50)
    topics = [(topic, body) for topic, body in list(ear.heard) if topic in ("sim/tick", "pump_room/state")]
    at = None
    for topic, body in topics:
        if topic == "pump_room/state":
            at = body["utc"]
        elif body["n"] > 1:
            assert body["utc"] == at


def test_commands_and_faults_show_at_once_and_sigterm_leaves_everything_off(broker: Child) -> None:
    with running_pool(broker, "--speed", "1e9") as (process, ear):
        ear.answering = True
        eventually(lambda: ear.tick > 50)
        ear.answering = False
        eventually(lambda: ear.of("node/feeders/status"))
        status = ear.of("node/feeders/status")[-1]
        command = {"do": "on", "no": 1, "owner": "t", "node_boot": status["boot"], "level": 1.0, "expires_s": 10.0}
        ear.say("feeder/cell/command", {**command, "valid_until_ms": status["ms"] + 10_000})
        eventually(lambda: ear.of("node/feeders/status")[-1]["feeders"]["cell"]["on"])
        eventually(lambda: ear.of("pump_room/state")[-1]["cell_a"] > 3.0)
        ear.say("sim/fault", {"fault": "flow_lost", "on": True})
        eventually(lambda: ear.of("pump_room/state")[-1]["flow"] is False)
        eventually(lambda: ear.of("sim/faults"))
        assert ear.of("sim/faults")[-1] == {"standing": ["flow_lost"], "error": None}
        for broken in ({"fault": "gremlins", "on": True}, {"fault": "flow_lost"}, {}):
            ear.say("sim/fault", broken)
        eventually(lambda: len(ear.of("sim/faults")) == 4)
        assert all(body["error"] for body in ear.of("sim/faults")[1:])
        process.send_signal(signal.SIGTERM)
        assert process.wait(timeout=20) == 0
        eventually(lambda: ear.of("node/feeders/alive")[-1] == {"value": 0})
    assert ear.of("node/feeders/status")[-1]["feeders"]["cell"]["on"] is False
    assert ear.of("pump_room/state")[-1]["cell_a"] == 0.0


def test_a_killed_process_is_told_by_its_will(broker: Child) -> None:
    with running_pool(broker, "--speed", "1e9") as (process, ear):
        eventually(lambda: ear.of("node/feeders/alive")[-1:] == [{"value": 1}])
        process.kill()
        eventually(lambda: ear.of("node/feeders/alive")[-1] == {"value": 0})


def test_without_ticks_it_runs_by_itself(broker: Child) -> None:
    with running_pool(broker, "--no-ticks", "--speed", "60") as (_process, ear):
        eventually(lambda: len(ear.of("probes/water")) > 5)
        assert ear.of("sim/tick") == []


def test_a_restarted_broker_only_stops_time_for_a_while(tmp_path: Path) -> None:
    with start_mosquitto(tmp_path) as child, running_pool(child, "--speed", "1e9") as (process, ear):
        ear.answering = True
        eventually(lambda: ear.tick > 20)
        child.restart()
        reached = ear.tick
        eventually(lambda: ear.tick > reached + 20)
        assert process.poll() is None
    numbers = [body["n"] for body in ear.of("sim/tick")]
    assert sorted(set(numbers)) == list(range(1, max(numbers) + 1))


def test_it_waits_for_a_broker_that_comes_later(tmp_path: Path) -> None:
    with start_mosquitto(tmp_path / "first") as child:
        port = child.port
    process = subprocess.Popen(
        [sys.executable, "-m", "dosectl.rehearsal.sim_process", "--port", str(port), "--base", BASE],
        stdout=subprocess.PIPE,
        cwd=Path(__file__).parents[2],
    )
    try:
        with start_mosquitto(tmp_path / "second", port=port):
            assert process.stdout is not None
            assert b"ready" in process.stdout.readline()
            process.send_signal(signal.SIGINT)
            assert process.wait(timeout=20) == 0
    finally:
        process.kill()
        process.wait()


@pytest.mark.parametrize(("arguments", "said"), [(("--tick-s", "0"), "--tick-s"), (("--speed", "-1"), "--speed")])
def test_numbers_that_make_no_sense_are_refused(arguments: tuple[str, ...], said: str) -> None:
    done = subprocess.run(
        [sys.executable, "-m", "dosectl.rehearsal.sim_process", *arguments],
        capture_output=True,
        text=True,
        check=False,
        cwd=Path(__file__).parents[2],
    )
    assert done.returncode == 2
    assert f"{said} {arguments[1]}" in done.stderr.replace(".0:", ":")
