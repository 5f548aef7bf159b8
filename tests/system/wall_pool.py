"""A small plant on the machine's own clock, not simulated by its own word: one node that keeps the contract, and its probes."""

import json
import math
import socket
import threading
import time
from pathlib import Path
from typing import Any

import paho.mqtt.client as mqtt
from paho.mqtt.enums import CallbackAPIVersion

from dosectl.rehearsal.feeder_node import FeederLimits, FeederNode
from tests.services import LOOPBACK
from tests.system.stage import PASSWORDS, ROOT, Daemon, write_secret

BASE = "dosectl/pool"
NODE = "plant"
_EVERY_S = {"flow": 3.0, "pump_power": 3.0, "cell_power": 3.0, "orp": 5.0, "ph": 5.0, "water_temp": 30.0, "status": 5.0}
SETTINGS = """
[guards.start.hold]
hold_s = 120

[guards.flow.proven]
proving_s = 30

[guards.flow.settle]
settle_s = 60

[guards.config.confirm]
wait_s = 60

[estimate]
settle_s = 60

[control]
settle_s = 60
period_s = 10
cell_on_s_min = 60
"""
"""The shortest holds that the settings allow: this pool runs in real time."""


def wall_settings(folder: Path, port: int) -> Path:
    """The minimal example that we ship, at this broker, with the shortest holds."""
    write_secret(folder / "dosectl.secret", PASSWORDS["dosectl"])
    text = (ROOT / "config/minimal.toml").read_text(encoding="utf-8")
    broker = f'[broker]\nhost = "{LOOPBACK}"\nport = {port}\nusername = "dosectl"\npassword_file = "dosectl.secret"\n\n[signals] '
    path = folder / "pool.toml"
    path.write_text(text.replace("[signals] ", broker) + SETTINGS, encoding="utf-8")
    return path


class WallPool:
    """Speaks by itself from a thread. `flow` may be set; `on_s` meters the cell; `heard` are the commands as they came."""

    def __init__(self, port: int, boot: str = "w1") -> None:
        self.flow = True
        self.on_s = 0.0
        self.heard: list[tuple[float, dict[str, Any]]] = []
        self.switched: list[tuple[float, bool]] = []
        self.state: dict[str, Any] = {}
        self._lock = threading.RLock()
        self._began = time.monotonic()
        self._metered_at = self._began
        self._node = FeederNode(boot, {"cell": FeederLimits("chlorine")}, simulated=False)
        self._due = dict.fromkeys(_EVERY_S, 0.0)
        self._was_on = False
        self._ended = threading.Event()
        client = self._client = mqtt.Client(CallbackAPIVersion.VERSION2, protocol=mqtt.MQTTv5)
        client.username_pw_set("plant", PASSWORDS["plant"])
        client.on_connect = self._on_connect
        client.on_message = self._on_message
        client.on_socket_open = self._on_socket_open
        client.reconnect_delay_set(1, 1)
        client.connect_async(LOOPBACK, port, keepalive=5)
        client.loop_start()
        self._thread = threading.Thread(target=self._run, name="plant", daemon=True)
        self._thread.start()

    def close(self) -> None:
        self._ended.set()
        self._thread.join()
        self._client.disconnect()
        self._client.loop_stop()

    @property
    def on(self) -> bool:
        with self._lock:
            self._meter()
            return bool(self._node.outputs())

    def set_flow(self, on: bool) -> None:
        """The switch moves, and says so at once."""
        with self._lock:
            self.flow = on
            self._publish("flow")

    def say(self, topic: str, body: dict[str, Any], retain: bool = False) -> None:
        self._client.publish(topic, json.dumps(body), qos=1, retain=retain)

    # --- inside ---

    def _on_socket_open(self, _client: object, _userdata: object, sock: Any) -> None:
        sock.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)

    def _on_connect(self, client: mqtt.Client, *_arguments: object) -> None:
        client.subscribe([(f"{BASE}/feeder/cell/command", 1), (f"{BASE}/state", 0)])

    def _on_message(self, _client: object, _userdata: object, message: mqtt.MQTTMessage) -> None:
        with self._lock:
            body = json.loads(message.payload)
            if message.topic.endswith("/state"):
                self.state = body
                return
            self.heard.append((time.monotonic(), body))
            self._meter()
            self._node.command("cell", bytes(message.payload), bool(message.retain), self._ms())
            self._tell_change()

    def _ms(self) -> int:
        return int((time.monotonic() - self._began) * 1000.0)

    def _meter(self) -> None:
        """Time since the last look, up to the feed's own end."""
        now = time.monotonic()
        if self._node.outputs():
            end_ms = self._node.next_end_ms()
            end = now if end_ms is None else min(now, self._began + end_ms / 1000.0)
            self.on_s += max(0.0, end - self._metered_at)
        self._metered_at = now
        self._node.tick(self._ms())

    def _tell_change(self) -> None:
        on = bool(self._node.outputs())
        if on != self._was_on:
            self._was_on = on
            self.switched.append((time.monotonic(), on))
            self._publish("status")
            self._publish("cell_power")

    def _run(self) -> None:
        while not self._ended.wait(0.02):
            with self._lock:
                self._meter()
                self._tell_change()
                now = time.monotonic()
                for name, due in self._due.items():
                    if now >= due:
                        self._due[name] = now + _EVERY_S[name]
                        self._publish(name)

    def _publish(self, name: str) -> None:
        """One signal or the node's status. Probes wander a little, as real ones do."""
        if name == "status":
            self.say(f"{BASE}/node/{NODE}/status", self._node.status(self._ms()))
            return
        t = time.monotonic() - self._began
        value = {
            "flow": "on" if self.flow else "off",
            "pump_power": "650",
            "cell_power": "120" if self._was_on else "0",
            "orp": f"{640.0 + 2.0 * math.sin(t / 37.0) + 0.5 * math.sin(t * 1.7):.2f}",
            "ph": f"{7.40 + 0.01 * math.sin(t / 53.0) + 0.003 * math.sin(t * 2.3):.3f}",
            "water_temp": f"{27.0 + 0.05 * math.sin(t / 600.0):.2f}",
        }[name]
        self._client.publish(f"plant/{name}", value, qos=0)


def wall_daemon(folder: Path, port: int) -> Daemon:
    """The daemon of this pool."""
    return Daemon(wall_settings(folder, port), folder / "daemon.log")
