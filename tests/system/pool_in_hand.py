"""The simulated pool with the test as its clock: every instant is told and answered, and what went over the wire is kept."""

import json
import queue
import socket
import time
import uuid
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from subprocess import Popen, TimeoutExpired
from typing import Any

import paho.mqtt.client as mqtt
import pytest
from paho.mqtt.enums import CallbackAPIVersion
from paho.mqtt.properties import Properties
from paho.mqtt.reasoncodes import ReasonCode

from dosectl.pool_model.params import CirculationParams, PlantParams, WaterParams
from dosectl.pool_model.plant import PoolPlant
from dosectl.pool_model.protocol import Truth
from dosectl.pool_model.scenarios import QUINCE_HOUSE_START, quince_house
from dosectl.rehearsal.nodes import Outgoing, PlantNodes
from tests.services import LOOPBACK, eventually
from tests.system.stage import PASSWORDS

# A summer's day that is past on any machine's clock, as servers and people refuse figures from the future.
START = QUINCE_HOUSE_START.replace(year=2020)  # a Saturday too
TICK_S = 3.0
DONE_LIMIT_S = 60.0
AGAIN_S = 1.0


def thirsty_pool(hypochlorite: bool = False, free_chlorine_mg_l: float = 1.0, ph: float = 7.6) -> PlantParams:
    """A pool whose pump always runs and that wants chlorine at once."""
    usual = quince_house(hypochlorite)
    water = replace(usual.water, free_chlorine_mg_l=free_chlorine_mg_l, ph=ph)
    assert isinstance(water, WaterParams)
    return replace(usual, water=water, circulation=CirculationParams(hours=((0.0, 24.0),)))


class Metered:
    """A plant that notes for how long the node held each output on: what a meter at the load would show."""

    def __init__(self, plant: PoolPlant) -> None:
        self._plant = plant
        self.elapsed_s = 0.0
        self.on_s: dict[str, float] = {}
        self.runs: list[tuple[str, float, float]] = []  # feeder, from, seconds at full output
        self.together_s = 0.0
        self.without_flow_s = 0.0

    @property
    def utc(self) -> datetime:
        return self._plant.utc

    @property
    def feeders(self) -> tuple[str, ...]:
        return self._plant.feeders

    def advance(self, dt_s: float, commands: Mapping[str, float]) -> None:
        on = {name: level for name, level in commands.items() if level > 0.0}
        if dt_s > 0.0:
            for name, level in on.items():
                self.on_s[name] = self.on_s.get(name, 0.0) + dt_s * level
                self.runs.append((name, self.elapsed_s, dt_s * level))
            if len({"acid" if name.startswith("acid") else "chlorine" for name in on}) > 1:
                self.together_s += dt_s
            self.elapsed_s += dt_s
        self._plant.advance(dt_s, commands)

    def ran_s(self, feeder: str, since_s: float = 0.0) -> float:
        """Seconds of full output since a moment of the plant's own elapsed time."""
        return sum(seconds for name, at_s, seconds in self.runs if name == feeder and at_s >= since_s)

    def signals(self) -> Mapping[str, float | bool]:
        return self._plant.signals()

    def truth(self) -> Truth:
        return self._plant.truth()

    def set_fault(self, name: str, on: bool) -> None:
        self._plant.set_fault(name, on)

    def manual_test(self, quantity: str, method: str) -> float:
        return self._plant.manual_test(quantity, method)

    def add_by_hand(self, product: str, amount: float) -> None:
        self._plant.add_by_hand(product, amount)


def _without_delay(_client: object, _userdata: object, sock: Any) -> None:
    sock.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)


@dataclass(frozen=True, slots=True)
class OnWire:
    """One message as the broker delivered it. tick : the instant in which it came; at_s : the machine's monotonic time."""

    topic: str
    body: Any
    retained: bool
    tick: int
    at_s: float


class PoolInHand:
    """Plant, nodes and one client. Nothing moves but by `tick`, `run` and `until`."""

    def __init__(
        self,
        port: int,
        params: PlantParams | None = None,
        tls_ca: str | None = None,
        base: str = "dosectl/demo",
        start: datetime = START,
    ) -> None:
        self.base = base
        self.plant = Metered(PoolPlant(params or thirsty_pool(), start, 1))
        self.nodes = PlantNodes(self.plant, base, boot=f"b{time.time_ns():x}")
        self.n = 0
        self.wire: list[OnWire] = []
        self.on_tick: Callable[[], None] | None = None
        self._done = 0
        self._heard: queue.SimpleQueue[tuple[str, bytes, bool, float]] = queue.SimpleQueue()
        self._ready = False
        self._client = mqtt.Client(CallbackAPIVersion.VERSION2, protocol=mqtt.MQTTv5)
        client = self._client
        client.username_pw_set("plant", PASSWORDS["plant"])
        if tls_ca is not None:
            client.tls_set(ca_certs=tls_ca)
        client.on_connect = self._on_connect
        client.on_subscribe = self._on_subscribe
        client.on_message = self._on_message
        client.on_socket_open = _without_delay
        client.reconnect_delay_set(1, 1)
        client.connect_async("localhost" if tls_ca else LOOPBACK, port, keepalive=5)
        client.loop_start()

    def ready(self) -> "PoolInHand":
        """Waits until its subscriptions stand."""
        eventually(lambda: self._ready, what="the plant is connected")
        return self

    def close(self) -> None:
        self._client.disconnect()
        self._client.loop_stop()

    def _on_connect(self, client: mqtt.Client, _u: object, _f: object, reason: ReasonCode, _p: Properties | None) -> None:
        if not reason.is_failure:
            client.subscribe(f"{self.base}/#", qos=1)

    def _on_subscribe(self, *_arguments: object) -> None:
        self._ready = True

    def _on_message(self, _client: object, _userdata: object, message: mqtt.MQTTMessage) -> None:
        self._heard.put(
            (message.topic.removeprefix(f"{self.base}/"), bytes(message.payload), bool(message.retain), time.monotonic())
        )

    # --- the wire ---

    def say(self, leaf: str, body: object, retain: bool = False) -> None:
        payload = body if isinstance(body, bytes) else json.dumps(body).encode()
        self._client.publish(f"{self.base}/{leaf}", payload, qos=1, retain=retain)

    def _publish(self, messages: list[Outgoing]) -> None:
        for message in messages:
            self._client.publish(message.topic, message.payload, qos=1, retain=message.retain)

    def listen(self, wait_s: float) -> bool:
        """Takes what has come, waiting at most `wait_s` for the first; the node obeys commands at once. True if anything came."""
        any_came = False
        while True:
            try:
                leaf, payload, retained, at_s = self._heard.get(timeout=wait_s) if wait_s > 0 else self._heard.get_nowait()
            except queue.Empty:
                return any_came
            any_came, wait_s = True, 0.0
            self._take(leaf, payload, retained, at_s)

    def _take(self, leaf: str, payload: bytes, retained: bool, at_s: float) -> None:
        try:
            body: Any = json.loads(payload) if payload else None
        except ValueError:
            body = payload
        self.wire.append(OnWire(leaf, body, retained, self.n, at_s))
        if leaf == "sim/done":
            self._done = max(self._done, body["n"])
        elif leaf.startswith("feeder/"):
            self._publish(self.nodes.command(leaf.split("/")[1], payload, retained))

    def of(self, leaf: str) -> list[Any]:
        """Bodies of one topic, in order; `+` for one level."""
        wanted = leaf.split("/")
        return [
            message.body
            for message in self.wire
            if len(parts := message.topic.split("/")) == len(wanted)
            and all(want in ("+", part) for want, part in zip(wanted, parts, strict=True))
        ]

    def commands(self, feeder: str = "+", since: int = 0) -> list[OnWire]:
        """Commands on the wire from place `since` of the wire on."""
        return [
            message
            for message in self.wire[since:]
            if message.topic.startswith("feeder/") and (feeder == "+" or message.topic.split("/")[1] == feeder)
        ]

    def ons(self, feeder: str = "+", since: int = 0) -> list[OnWire]:
        return [m for m in self.commands(feeder, since) if isinstance(m.body, dict) and m.body.get("do") == "on"]

    def offs(self, feeder: str = "+", since: int = 0) -> list[OnWire]:
        return [m for m in self.commands(feeder, since) if isinstance(m.body, dict) and m.body.get("do") == "off"]

    @property
    def view(self) -> dict[str, Any]:
        """The newest state view."""
        views = self.of("state")
        assert views, "no view was published"
        return dict(views[-1])

    # --- time ---

    def announce(self, *extra: Outgoing) -> None:
        """Tells this instant: its messages, then its tick."""
        self.n += 1
        self._publish([*self.nodes.due(), *extra])
        self._say_tick()

    def _say_tick(self) -> None:
        utc = self.nodes.utc.isoformat(timespec="milliseconds").replace("+00:00", "Z")
        self.say("sim/tick", {"n": self.n, "mono_s": round(self.nodes.elapsed_s, 3), "utc": utc})

    def answered(self, gave_up: Callable[[], bool] | None = None, limit_s: float = DONE_LIMIT_S) -> bool:
        """Waits for the daemon's answer to this instant, saying it again now and then. False where `gave_up` says so."""
        end = time.monotonic() + limit_s
        again = time.monotonic() + AGAIN_S
        while self._done < self.n:
            self.listen(0.02)
            if gave_up is not None and gave_up():
                self.listen(0.0)
                return self._done >= self.n
            now = time.monotonic()
            if now >= again:
                again = now + AGAIN_S
                self._say_tick()
            if now > end:
                pytest.fail(f"the daemon did not answer tick {self.n} within {limit_s:g} s")
        return True

    def tick(self, step_s: float = TICK_S, gave_up: Callable[[], bool] | None = None) -> bool:
        """Lets `step_s` pass, tells the instant and waits until the daemon has done its step."""
        self.pass_time(step_s)
        self.announce()
        done = self.answered(gave_up)
        if self.on_tick is not None:
            self.on_tick()
        return done

    def pass_time(self, seconds: float) -> None:
        """Time passes and nobody is told: the node ends its feeds by itself."""
        self.nodes.advance(seconds)

    def run(self, seconds: float, step_s: float = TICK_S) -> None:
        for _ in range(round(seconds / step_s)):
            self.tick(step_s)

    def until(self, is_so: Callable[[], object], limit_h: float = 3.0, step_s: float = TICK_S, what: str = "") -> None:
        """Ticks until it is so; a bound in simulated time."""
        for _ in range(int(limit_h * 3600.0 / step_s)):
            self.tick(step_s)
            if is_so():
                return
        pytest.fail(f"still not so after {limit_h:g} simulated hours: {what or is_so}")

    def beside(self, process: "Popen[str]", limit_s: float = 60.0) -> tuple[int, str, str]:
        """Lets time pass beside a command line until it ends: its status and what it said."""
        end = time.monotonic() + limit_s
        while True:
            try:
                out, error = process.communicate(timeout=0.02)  # reads meanwhile: a pipe that is full would hold it up
                return process.returncode, out, error
            except TimeoutExpired:
                self.tick()
            if time.monotonic() > end:
                process.kill()
                pytest.fail(f"{process.args!r} did not end")

    def running(self, feeder: str) -> bool:
        """The node's own output."""
        return feeder in self.nodes.node.outputs()

    def fault(self, name: str, on: bool = True) -> None:
        self._publish(self.nodes.set_fault(name, on))

    # --- the owner ---

    def ask(self, kind: str, arguments: Mapping[str, object] | None = None, place: str = "console") -> dict[str, Any]:
        """A request of the owner's, judged in the next step: its reply."""
        request = uuid.uuid4().hex
        expires = datetime.now(UTC) + timedelta(minutes=5)
        body = {"id": request, "kind": kind, "arguments": dict(arguments or {}), "by": "test", "expires_utc": expires.isoformat()}
        self.say(f"ask/owner/{place}", body)
        for _ in range(20):
            self.tick()
            for reply in self.of("reply/owner"):
                if reply["request"] == request:
                    return dict(reply)
        pytest.fail(f"no reply to {kind} {arguments}")

    def prove(self, *feeders: Any) -> None:
        """Attests each feeder, as its owner would."""
        from dosectl.core.requests.kinds.attest_proof import YES, questions_for

        for feeder in feeders:
            reply = self.ask("attest_proof", {"feeder": feeder.id, **{question.key: YES for question in questions_for(feeder)}})
            assert reply["done"], reply["text"]

    def test_water(self) -> None:
        """Free chlorine and pH by hand, read as a drop kit shows them."""
        truth = self.plant.truth()
        free, ph = round(round(truth.free_chlorine_mg_l / 0.2) * 0.2, 1), round(truth.ph, 1)
        for quantity, value in (("free_chlorine", free), ("ph", ph)):
            reply = self.ask("water_test", {"quantity": quantity, "value": value, "method": "drops", "as_said": True})
            assert reply["done"], reply["text"]
