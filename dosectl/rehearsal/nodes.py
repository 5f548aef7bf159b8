"""The plant's MQTT face: what its nodes send and hear, as lists of messages. No network here.

Three nodes, named below `base`:

* probe node: `probes/water` each 10 s {"orp_mv","ph","seq","utc"};
  `probes/slow` each 60 s {"temp_c","salt_g_l","cover_closed","seq","utc"}
* pump room's node: `pump_room/state` each 3 s and at once on a change {"flow","pump_w","cell_a","acid_running",...};
  `pump_room/levels` each 60 s {"acid_percent",...}
* feeder node `feeders`: the node contract, status each 5 s and at once on a change, carrying all feeders of the plant
"""

import json
import math
from collections.abc import Iterable, Mapping
from dataclasses import asdict, dataclass
from datetime import UTC, datetime, timedelta

from dosectl.pool_model.faults import registry
from dosectl.pool_model.protocol import Plant
from dosectl.rehearsal.feeder_node import FeederLimits, FeederNode

FEEDER_NODE = "feeders"
WATER_PERIOD_S, SLOW_PERIOD_S, STATE_PERIOD_S, STATUS_PERIOD_S, TRUTH_PERIOD_S = 10.0, 60.0, 3.0, 5.0, 60.0
REBOOT_S = 2.0
_GARBAGE = (
    b'{"orp_mv":NaN,"ph":NaN}',
    b"out of order",
    b'{"orp_mv":',
    b"\xff\xfe\x00",
    b'{"orp_mv":"700","ph":null,"temp_c":true}',
    b"",
)
_WATER = ("orp_mv", "ph")
_SLOW = ("temp_c", "salt_g_l", "cover_closed")


@dataclass(frozen=True, slots=True)
class Outgoing:
    """One message to publish, QoS 0."""

    topic: str
    payload: bytes
    retain: bool = False


def usual_limits(feeders: Iterable[str]) -> dict[str, FeederLimits]:
    """Acid may run half of any hour; chlorine all of it. What is not called acid is chlorine."""
    return {
        name: FeederLimits("acid", hourly_run_s_max=1800.0) if name.startswith("acid") else FeederLimits("chlorine")
        for name in feeders
    }


class _Due:
    """A period that keeps its mean rate whatever the steps are."""

    __slots__ = ("_next_s", "_period_s")

    def __init__(self, period_s: float) -> None:
        self._period_s = period_s
        self._next_s = 0.0

    def now(self, elapsed_s: float) -> bool:
        if elapsed_s < self._next_s - 1e-6:
            return False
        following = self._next_s + self._period_s
        self._next_s = following if following > elapsed_s else elapsed_s + self._period_s
        return True


class PlantNodes:
    """Joins a plant with its feeder node and turns both into messages.

    Order of calls: `advance`, then `due` for the messages of the instant; `command` and `set_fault` at any time between,
    each gives the messages that follow at once.
    """

    def __init__(self, plant: Plant, base: str, limits: Mapping[str, FeederLimits] | None = None, boot: str = "b1") -> None:
        self.plant = plant
        self.base = base
        self.elapsed_s = 0.0
        self._limits = dict(limits or usual_limits(plant.feeders))
        self._boot_stem = boot
        self._boots = 0
        self.node = FeederNode(boot, self._limits)
        self._booted_at_s = 0.0
        self._speaks_at_s = 0.0
        self._standing: set[str] = set()
        self._upset = registry.upset_by(())
        self._seq = {"probes": 0, "pump_room": 0}
        self._water, self._slow, self._state = _Due(WATER_PERIOD_S), _Due(SLOW_PERIOD_S), _Due(STATE_PERIOD_S)
        self._levels, self._status, self._truth = _Due(SLOW_PERIOD_S), _Due(STATUS_PERIOD_S), _Due(TRUTH_PERIOD_S)
        self._intruder = _Due(STATUS_PERIOD_S)
        self._sent_state: dict[str, float | bool] = {}
        self._first_water: bytes | None = None
        self._last_probe: dict[str, Outgoing] = {}
        self._garbled = 0

    def command_topic(self, feeder: str) -> str:
        """Where the node hears commands for a feeder."""
        return f"{self.base}/feeder/{feeder}/command"

    @property
    def alive_topic(self) -> str:
        """The feeder node's last will."""
        return f"{self.base}/node/{FEEDER_NODE}/alive"

    @property
    def utc(self) -> datetime:
        """The wall clock of plant and daemon, wrong where a clock fault stands."""
        return self.plant.utc + timedelta(seconds=self._upset.wall_clock_ahead_s)

    @property
    def faults(self) -> tuple[str, ...]:
        """Faults that stand until they are ended."""
        return tuple(sorted(self._standing))

    @property
    def node_ms(self) -> int:
        """The feeder node's counter since its boot."""
        return round((self.elapsed_s - self._booted_at_s) * 1000.0)

    def advance(self, dt_s: float) -> None:
        """Lets time pass; a feed that ends by itself ends in time, not at the end of the step."""
        left_s = dt_s
        while left_s > 1e-9:
            end_ms = self.node.next_end_ms()
            step_s = left_s if end_ms is None else min(left_s, max(0.001, (end_ms - self.node_ms) / 1000.0))
            self.plant.advance(step_s, self.node.outputs())
            self.elapsed_s += step_s
            left_s -= step_s
            if self.node.tick(self.node_ms):
                self._status = _Due(STATUS_PERIOD_S)  # a change is told at once
        self.plant.advance(0.0, self.node.outputs())

    def due(self) -> list[Outgoing]:
        """Messages of this instant: those whose period has come and those of changes."""
        now_s, signals, out = self.elapsed_s, self.plant.signals(), []
        if self._water.now(now_s):
            out += self._probe_message("water", {key: signals[key] for key in _WATER if key in signals})
        if self._slow.now(now_s):
            out += self._probe_message("slow", {key: signals[key] for key in _SLOW if key in signals})
        out += self._pump_room(signals, self._state.now(now_s))
        if self._upset.second_controller and self._intruder.now(now_s):
            out.append(self._foreign_command())
        if self._levels.now(now_s):
            levels = {key: value for key, value in signals.items() if key.endswith("_percent")}
            if levels:
                out.append(self._json("pump_room/levels", {**levels, "utc": _iso(self.utc)}))
        if self._status.now(now_s):
            out += self._status_message()
        if self._truth.now(now_s):
            out.append(self._truth_message())
        return out

    def command(self, feeder: str, payload: bytes, retained: bool) -> list[Outgoing]:
        """The feeder node hears a command; what it and the load then say."""
        if self._upset.feeder_node_silent or self.elapsed_s < self._speaks_at_s:
            return []
        if not self.node.command(feeder, payload, retained, self.node_ms).changed:
            return []
        self.plant.advance(0.0, self.node.outputs())
        return self._status_message() + self._pump_room(self.plant.signals(), False)

    def set_fault(self, name: str, on: bool) -> list[Outgoing]:
        """Starts or ends a fault of plant or nodes. Raises KeyError for an unknown name."""
        registry.find(name)
        self.plant.set_fault(name, on)
        if registry.FAULTS[name].lasts_s is None:
            (self._standing.add if on else self._standing.discard)(name)
        self._upset = registry.upset_by(sorted(self._standing))
        if name == "node_reboot" and on:
            self._reboot()
        out = self._pump_room(self.plant.signals(), False)
        if name == "retained_replay" and self._first_water is not None:
            out.append(Outgoing(f"{self.base}/probes/water", self._first_water if on else b"", retain=True))
        return out

    def all_off(self) -> list[Outgoing]:
        """The node's own end: every feeder off, and said so."""
        self.node.all_off(self.node_ms)
        self.plant.advance(0.0, {})
        return [*self._status_message(), *self._pump_room(self.plant.signals(), False)]

    def _reboot(self) -> None:
        self._boots += 1
        self.node = FeederNode(f"{self._boot_stem}.{self._boots}", self._limits)
        self._booted_at_s = self.elapsed_s
        self._speaks_at_s = self.elapsed_s + REBOOT_S
        self._status = _Due(STATUS_PERIOD_S)
        self.plant.advance(0.0, {})

    def _probe_message(self, leaf: str, values: Mapping[str, float | bool]) -> list[Outgoing]:
        if not values:
            return []
        if self._upset.probe_messages_garbled:
            self._garbled = (self._garbled + 1) % len(_GARBAGE)
            return [Outgoing(f"{self.base}/probes/{leaf}", _GARBAGE[self._garbled])]
        if self._upset.probe_messages_repeated and leaf in self._last_probe:
            return [self._last_probe[leaf]]
        utc = self.utc - timedelta(seconds=self._upset.probe_clock_behind_s)
        self._seq["probes"] += 1
        message = self._json(f"probes/{leaf}", {**values, "seq": self._seq["probes"], "utc": _iso(utc)})
        if leaf == "water" and self._first_water is None:
            self._first_water = message.payload
        self._last_probe[leaf] = message
        return [message]

    def _foreign_command(self) -> Outgoing:
        command = {"do": "on", "no": round(self.elapsed_s) + 1, "owner": "another", "node_boot": self.node.boot, "level": 1.0}
        life = {"valid_until_ms": self.node_ms + 10_000, "expires_s": 10.0, "issued_utc": _iso(self.utc)}
        return self._json(f"feeder/{self.plant.feeders[0]}/command", {**command, **life})

    def _pump_room(self, signals: Mapping[str, float | bool], due: bool) -> list[Outgoing]:
        state = {key: value for key, value in signals.items() if key in ("flow", "pump_w") or key.endswith(("_running", "_a"))}
        if not state or not (due or state != self._sent_state):
            return []
        self._sent_state = state
        self._seq["pump_room"] += 1
        return [self._json("pump_room/state", {**state, "seq": self._seq["pump_room"], "utc": _iso(self.utc)})]

    def _status_message(self) -> list[Outgoing]:
        if self._upset.feeder_node_silent or self.elapsed_s < self._speaks_at_s:
            self._status = _Due(STATUS_PERIOD_S)
            return []
        return [self._json(f"node/{FEEDER_NODE}/status", self.node.status(self.node_ms))]

    def _truth_message(self) -> Outgoing:
        truth = asdict(self.plant.truth())
        truth["utc"] = _iso(truth["utc"])
        known = {key: None if isinstance(value, float) and math.isnan(value) else value for key, value in truth.items()}
        return self._json("sim/truth", {"simulated": True, **known})

    def _json(self, leaf: str, body: Mapping[str, object]) -> Outgoing:
        return Outgoing(f"{self.base}/{leaf}", json.dumps(body, allow_nan=False, separators=(",", ":")).encode())


def _iso(moment: datetime) -> str:
    return moment.astimezone(UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")
