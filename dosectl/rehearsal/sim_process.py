"""The simulated pool as a process of its own that speaks MQTT as real nodes would.

With ticks it owns time: it publishes all messages of an instant, then `{base}/sim/tick` {"n","mono_s","utc"}, and goes on only
when `{base}/sim/done` {"n"} came back. It waits for ever, so that a stall of either process only slows the demo. A tick that is
not answered (nobody was there) is published again each two seconds with the same number; answering twice does no harm.
Without ticks it runs on the wall clock. It ends on SIGTERM and SIGINT with every feeder off.
"""

import argparse
import json
import signal
import sys
import time
from collections.abc import Sequence
from datetime import UTC, datetime
from pathlib import Path
from types import FrameType

from dosectl.pool_model.faults import registry
from dosectl.pool_model.plant import PoolPlant
from dosectl.pool_model.scenarios import QUINCE_HOUSE_START, quince_house, random_params
from dosectl.rehearsal.nodes import Outgoing, PlantNodes
from dosectl.rehearsal.plant_link import PROTOCOLS, Heard, PlantLink

TICK_AGAIN_S = 2.0
TICK_S_MAX = 4.5  # a message bears its own instant and the daemon's clock still shows the one before: 5 s ahead is refused
LISTEN_S = 0.5  # a signal to end is noticed at the latest after this
BEHIND_S_MAX = 1.0


class SimProcess:
    """Plant, nodes and link in one loop. `stop` may be called from a signal handler."""

    def __init__(self, nodes: PlantNodes, link: PlantLink, tick_s: float, speed: float, ticks: bool) -> None:
        self._nodes = nodes
        self._link = link
        self._tick_s = tick_s
        self._speed = speed
        self._ticks = ticks
        self._n = 0
        self._done_n = 0
        self._ended = False
        self._connected = False
        self._next_tick_s: float | None = None  # a short fault wants the next instant sooner
        base = nodes.base
        self._command_topics = {nodes.command_topic(feeder): feeder for feeder in nodes.plant.feeders}
        self._done_topic, self._fault_topic = f"{base}/sim/done", f"{base}/sim/fault"

    def stop(self, *_signal: int | FrameType | None) -> None:
        """Ends the loop at its next turn."""
        self._ended = True

    def run(self) -> None:
        """Runs until `stop`; then every feeder is off and told so."""
        self._link.start()
        while not (self._connected or self._ended):
            self._listen(LISTEN_S)
        if not self._ended:
            print(f"simulated pool: ready, {self._nodes.utc.isoformat()}", flush=True)
        if self._ticks:
            self._run_in_ticks()
        else:
            self._run_on_wall_clock()
        self._publish(self._nodes.all_off())
        self._link.stop()

    def _run_in_ticks(self) -> None:
        due_at = time.monotonic()
        while not self._ended:
            self._n += 1
            self._publish(self._nodes.due())
            self._publish_tick()
            self._wait_for_done()
            step_s = self._take_step_s()
            due_at = max(due_at + step_s / self._speed, time.monotonic() - BEHIND_S_MAX)
            while not self._ended and (left_s := due_at - time.monotonic()) > 0.0:
                self._listen(min(left_s, LISTEN_S))
            self._nodes.advance(step_s)

    def _run_on_wall_clock(self) -> None:
        last_at = time.monotonic()
        while not self._ended:
            self._publish(self._nodes.due())
            step_s = self._take_step_s()
            while not self._ended and (left_s := last_at + step_s - time.monotonic()) > 0.0:
                self._listen(min(left_s, LISTEN_S))
            now = time.monotonic()
            self._nodes.advance((now - last_at) * self._speed)
            last_at = now

    def _take_step_s(self) -> float:
        step_s, self._next_tick_s = self._next_tick_s or self._tick_s, None
        return step_s

    def _publish_tick(self) -> None:
        nodes = self._nodes
        utc = nodes.utc.astimezone(UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")
        body = {"n": self._n, "mono_s": round(nodes.elapsed_s, 3), "utc": utc}
        self._link.publish(Outgoing(f"{nodes.base}/sim/tick", json.dumps(body).encode()))

    def _wait_for_done(self) -> None:
        again_at = time.monotonic() + TICK_AGAIN_S
        while not self._ended and self._done_n != self._n:
            self._listen(LISTEN_S)
            if time.monotonic() >= again_at:
                again_at = time.monotonic() + TICK_AGAIN_S
                self._publish_tick()

    def _listen(self, wait_s: float) -> None:
        heard = self._link.hear(wait_s)
        while heard is not None:
            self._take(heard)
            heard = self._link.hear(0.0)

    def _take(self, heard: Heard) -> None:
        if heard.topic == "":
            self._connected = True
        elif heard.topic in self._command_topics:
            self._publish(self._nodes.command(self._command_topics[heard.topic], heard.payload, heard.retained))
        elif heard.topic == self._done_topic and not heard.retained:
            n = _field(heard.payload, "n")
            if isinstance(n, int):
                self._done_n = n
        elif heard.topic == self._fault_topic and not heard.retained:
            self._take_fault(heard.payload)

    def _take_fault(self, payload: bytes) -> None:
        name, on = _field(payload, "fault"), _field(payload, "on")
        error = None
        if isinstance(name, str) and isinstance(on, bool):
            try:
                self._publish(self._nodes.set_fault(name, on))
                if on and (lasts_s := registry.FAULTS[name].lasts_s) is not None:
                    self._next_tick_s = min(self._tick_s, lasts_s)
            except KeyError as unknown:
                error = str(unknown.args[0])
        else:
            error = 'the message is not of the form {"fault": "flow_lost", "on": true}, so nothing was changed'
        body = {"standing": list(self._nodes.faults), "error": error}
        self._publish([Outgoing(f"{self._nodes.base}/sim/faults", json.dumps(body).encode())])

    def _publish(self, messages: Sequence[Outgoing]) -> None:
        for message in messages:
            self._link.publish(message)


def _field(payload: bytes, name: str) -> object:
    try:
        body = json.loads(payload)
    except (ValueError, RecursionError):
        return None
    return body.get(name) if isinstance(body, dict) else None


def _arguments(arguments: Sequence[str] | None) -> argparse.Namespace:
    parser = argparse.ArgumentParser(prog="python -m dosectl.rehearsal.sim_process", description=__doc__.splitlines()[0])
    parser.add_argument("--host", default="127.0.0.1")
    parser.add_argument("--port", type=int, default=1883)
    parser.add_argument("--base", default="dosectl/demo", help="first levels of all topics")
    parser.add_argument("--protocol", choices=sorted(PROTOCOLS), default="5", help="MQTT version")
    parser.add_argument("--username")
    parser.add_argument("--password-file", type=Path, help="file whose first line is the password")
    parser.add_argument("--speed", type=float, default=480.0, help="at most so many simulated seconds a second")
    parser.add_argument("--tick-s", type=float, help="simulated seconds between instants; 3, or 0.2 without ticks")
    parser.add_argument("--no-ticks", action="store_true", help="run on the wall clock, without waiting for a daemon")
    parser.add_argument("--start", type=datetime.fromisoformat, default=QUINCE_HOUSE_START, help="UTC, such as 2026-07-11T06:00")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--pool", choices=("quince", "quince-hypo", "random", "random-hypo"), default="quince")
    parsed = parser.parse_args(arguments)
    if parsed.tick_s is None:
        parsed.tick_s = 0.2 if parsed.no_ticks else 3.0
    if not 0.001 <= parsed.tick_s <= TICK_S_MAX:
        parser.error(f"--tick-s {parsed.tick_s}: accepted is 0.001 to {TICK_S_MAX:g} s; a reading more than 5 s ahead is refused")
    if not parsed.speed > 0.0:
        parser.error(f"--speed {parsed.speed}: accepted is more than 0")
    if parsed.start.utcoffset() is None:
        parsed.start = parsed.start.replace(tzinfo=UTC)
    return parsed


def _account(arguments: argparse.Namespace) -> tuple[str, str] | None:
    if arguments.username is None:
        return None
    password = arguments.password_file.read_text().splitlines()[0] if arguments.password_file else ""
    return arguments.username, password


def main(arguments: Sequence[str] | None = None) -> int:
    """Runs the simulated pool until it is told to end. Returns the exit code."""
    parsed = _arguments(arguments)
    hypochlorite = parsed.pool.endswith("-hypo")
    params = random_params(parsed.seed, hypochlorite) if parsed.pool.startswith("random") else quince_house(hypochlorite)
    # A new boot identity a run: a command meant for the run before must not switch anything on.
    nodes = PlantNodes(PoolPlant(params, parsed.start, parsed.seed), parsed.base, boot=f"b{time.time_ns():x}")
    topics = (
        *(nodes.command_topic(feeder) for feeder in nodes.plant.feeders),
        f"{parsed.base}/sim/done",
        f"{parsed.base}/sim/fault",
    )
    link = PlantLink(parsed.host, parsed.port, parsed.protocol, topics, nodes.alive_topic, _account(parsed))
    process = SimProcess(nodes, link, parsed.tick_s, parsed.speed, not parsed.no_ticks)
    signal.signal(signal.SIGTERM, process.stop)
    signal.signal(signal.SIGINT, process.stop)
    process.run()
    return 0


if __name__ == "__main__":
    sys.exit(main())
