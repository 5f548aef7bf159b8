"""Flow lost -> OFF on the wire and at the node, 1,000 times, a feeder running at each, beside a bare echo by the same broker.

    .venv/bin/python -m tests.benchmarks.reaction [--trials 1000]

The real daemon at a real broker with accounts and an access list; the node is the simulated pool's, in this process. From the
moment before the message of the lost flow is handed to the client: until the OFF has come back from the broker (wire), until
the node has obeyed and its word that the feeder is off has come back too (node). The echo is a message that a second client
sends back as it comes, both with QoS 1 and without delayed segments, one round trip before each trial. Between trials the
pool's clock is advanced: the flow comes back, is proven, the water settles, the feed begins anew. The pump is switched off with
the flow (a second later), as five losses with a running pump within an hour would lengthen the proof.
"""

import argparse
import platform
import sys
import tempfile
import time
from pathlib import Path
from typing import Any

import paho.mqtt.client as mqtt
from paho.mqtt.enums import CallbackAPIVersion

from tests.services import LOOPBACK
from tests.system.pool_in_hand import PoolInHand
from tests.system.scene import SOON, Scene, scene_at
from tests.system.stage import PASSWORDS

FAST = SOON + "\n[guards.flow.settle]\nsettle_s = 60\n\n[estimate]\nsettle_s = 60\n"
STEP_S = 4.5


class Echo:
    """Two bare clients: one asks, one sends back."""

    def __init__(self, port: int, base: str) -> None:
        self._there, self._back = f"{base}/bench/there", f"{base}/bench/back"
        self._asker, self._answerer = self._client(port, self._back), self._client(port, self._there)
        self._answerer.on_message = self._send_back
        self._asker.on_message = self._heard
        self.rounds_ms: list[float] = []
        self._sent_at = 0.0
        self._came = False

    def _client(self, port: int, topic: str) -> mqtt.Client:
        client = mqtt.Client(CallbackAPIVersion.VERSION2, protocol=mqtt.MQTTv5)
        client.username_pw_set("plant", PASSWORDS["plant"])
        client.on_socket_open = lambda _c, _u, sock: _without_delay(sock)
        client.on_connect = lambda c, *_: c.subscribe(topic, qos=1)
        client.connect(LOOPBACK, port)
        client.loop_start()
        return client

    def _send_back(self, client: mqtt.Client, _userdata: object, message: mqtt.MQTTMessage) -> None:
        client.publish(self._back, message.payload, qos=1)

    def _heard(self, _client: object, _userdata: object, _message: object) -> None:
        self.rounds_ms.append((time.monotonic() - self._sent_at) * 1000.0)
        self._came = True

    def round(self) -> None:
        """One round trip."""
        self._came, self._sent_at = False, time.monotonic()
        self._asker.publish(self._there, b"x" * 120, qos=1)
        while not self._came:
            time.sleep(0.0002)

    def close(self) -> None:
        for client in (self._asker, self._answerer):
            client.disconnect()
            client.loop_stop()


def _without_delay(sock: Any) -> None:
    import socket

    sock.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)


def feed_again(scene: Scene) -> None:
    """Lets time pass until the node feeds, in large instants first."""
    pool = scene.pool
    for _ in range(8000):
        pool.tick(STEP_S)
        if pool.nodes.node.outputs():
            return
    raise RuntimeError(f"no feed: {pool.view['feeders']}")


def trial(pool: PoolInHand) -> tuple[float, float]:
    """One loss of flow: ms until the OFF is on the wire, and until the node's word that it is off is."""
    (feeder,) = pool.nodes.node.outputs()
    place = len(pool.wire)
    sent_at = time.monotonic()
    pool.fault("flow_lost")
    pool.announce()
    while not (offs := pool.offs(feeder, place)):
        pool.listen(0.05)
    if pool.nodes.node.outputs():
        raise RuntimeError("the node did not obey")
    while not (told := [m for m in pool.wire[place:] if m.topic.endswith("/status") and not m.body["feeders"][feeder]["on"]]):
        pool.listen(0.05)
    pool.answered()
    return (offs[0].at_s - sent_at) * 1000.0, (told[0].at_s - sent_at) * 1000.0


def recover(pool: PoolInHand) -> None:
    """The pump is switched off with the flow, then both come back."""
    pool.tick(1.0)
    pool.fault("pump_off")
    pool.tick(3.0)
    pool.fault("flow_lost", False)
    pool.tick(15.0 / 4)
    pool.run(24.0)
    pool.fault("pump_off", False)
    pool.wire.clear()


def share(values: list[float], of: float) -> float:
    """A quantile, by the nearest rank."""
    return sorted(values)[min(len(values) - 1, int(of * len(values)))]


def main() -> int:
    """Runs all trials and prints the figures."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--trials", type=int, default=1000)
    trials = parser.parse_args().trials
    wire: list[float] = []
    node: list[float] = []
    with tempfile.TemporaryDirectory() as name, scene_at(Path(name), more=FAST) as scene:
        echo = Echo(scene.broker.port, scene.pool.base)
        began = time.monotonic()
        scene.begin()
        for number in range(trials):
            feed_again(scene)
            echo.round()
            on_wire, at_node = trial(scene.pool)
            wire.append(on_wire)
            node.append(at_node)
            recover(scene.pool)
            if (number + 1) % 50 == 0:
                print(f"{number + 1} trials, {time.monotonic() - began:.0f} s", file=sys.stderr, flush=True)
        hours = scene.pool.nodes.elapsed_s / 3600.0
        echo.close()
    print(f"{trials} trials in {hours:.0f} simulated hours; {platform.machine()}, Python {platform.python_version()}")
    print(f"{'ms':<34}{'p50':>8}{'p99':>8}{'most':>8}{'p50/echo':>10}{'p99/echo':>10}")
    for text, values in (
        ("bare echo, one round trip", echo.rounds_ms),
        ("OFF on the wire", wire),
        ("off told by the node", node),
    ):
        p50, p99 = share(values, 0.5), share(values, 0.99)
        ratios = f"{p50 / share(echo.rounds_ms, 0.5):>10.1f}{p99 / share(echo.rounds_ms, 0.99):>10.1f}"
        print(f"{text:<34}{p50:>8.2f}{p99:>8.2f}{max(values):>8.2f}{ratios}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
