"""Random sequences of what may happen to a controller, through the whole step, with a plant that meters what the node fed.

Restarts that lose the last seconds of the record, wall clocks set to and fro, strangers' commands, doubled and lost messages,
flow that comes and goes, silent nodes and probes: whatever comes, what must never happen is checked after each step by the
plant's own meter, not by what the controller believes.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from random import Random

from dosectl.model.feeds import FeedOff, FeedOn, Substance
from dosectl.pool_model.params import CirculationParams, PlantParams
from dosectl.pool_model.plant import PoolPlant
from dosectl.pool_model.scenarios import QUINCE_HOUSE_START, quince_house
from dosectl.rehearsal.loop import Moment, demo_loaded
from dosectl.rehearsal.nodes import Outgoing, PlantNodes
from dosectl.rehearsal.wired import WiredLoop

HOUR_S, DAY_S = 3600.0, 86400.0
# Typed from the design: chlorine 1.0 an hour and min(5, max(3, 2.5 x median of 2.4)) a day; acid half of 2.5 an hour while
# its days of use are not known, and 5 a day.
LIMITS_MG_L = {("chlorine", HOUR_S): 1.0, ("chlorine", DAY_S): 5.0, ("acid", HOUR_S): 1.25, ("acid", DAY_S): 5.0}
NOISE = 1e-6
FAULTS = (
    "flow_lost", "pump_off", "probes_silent", "pump_room_silent", "node_silent", "messages_repeated", "messages_garbled",
    "retained_replay", "orp_dead", "ph_dead", "probes_swapped", "orp_stuck", "flow_switch_stuck_on",
)  # fmt: skip


class MeteredPlant(PoolPlant):
    """Notes each span in which the node held an output on: (feeder, from, to, level)."""

    def __init__(self, *arguments: object) -> None:
        super().__init__(*arguments)  # type: ignore[arg-type]
        self.runs: list[tuple[str, float, float, float]] = []
        self.on_s: dict[str, float] = {}
        self.passed_s = 0.0

    def advance(self, dt_s: float, commands: Mapping[str, float]) -> None:
        if dt_s > 0.0:
            on = [(name, level) for name, level in commands.items() if level > 0.0]
            groups = {"acid" if name == "acid" else "chlorine" for name, _ in on}
            assert len(groups) < 2, f"the node holds {on} on together"
            self.runs += [(name, self.passed_s, self.passed_s + dt_s, level) for name, level in on]
            for name, level in on:
                self.on_s[name] = self.on_s.get(name, 0.0) + level * dt_s
            self.passed_s += dt_s
        super().advance(dt_s, commands)


class SkewedNodes(PlantNodes):
    """Nodes and controller share a wall clock that may be set to any time."""

    skew_s = 0.0

    @property
    def utc(self) -> datetime:
        return super().utc + timedelta(seconds=self.skew_s)


@dataclass
class Sequence:
    """One world and its random fate. `said` tells what was done, for whoever reads a failure."""

    seed: int
    hypochlorite: bool = True
    said: list[str] = field(default_factory=list)
    standing: set[str] = field(default_factory=set)
    starts: int = 0
    strangers: int = 0

    def __post_init__(self) -> None:
        self.random = Random(self.seed)
        params = quince_house(self.hypochlorite)
        self.plant = MeteredPlant(_always_thirsty(params), QUINCE_HOUSE_START, self.seed)
        self.loop = WiredLoop(demo_loaded(self.hypochlorite), self.plant, calm_step_s=30.0)
        self.nodes = SkewedNodes(self.plant, self.loop.nodes.base)
        self.loop.nodes = self.nodes
        for quantity in ("free_chlorine", "ph", "alkalinity"):
            self.loop.water_test(quantity)
        self.loop.ask("refill", (("feeder", "acid"), ("container_ml", 5000.0)))
        self.sites = {str(feeder.id): feeder for feeder in self.loop.plan.site.feeders}

    def run(self, hours: float) -> None:
        """Lives so long, with something new about every ten minutes. Raises AssertionError with all that was done."""
        due_s = 1200.0
        try:
            while self.loop.elapsed_s < hours * HOUR_S:
                if self.loop.elapsed_s >= due_s:
                    due_s = self.loop.elapsed_s + self.random.expovariate(1.0 / 1200.0)
                    self._something()
                self.check(self.loop.one())
            self.check_windows()
        except AssertionError as error:
            raise AssertionError(f"seed {self.seed}: {error}\n" + "\n".join(self.said[-30:])) from error

    def _say(self, text: str) -> None:
        self.said.append(f"{self.loop.elapsed_s:9.0f} s  {text}")

    def _something(self) -> None:
        self.random.choice(
            (
                *(self._restart, self._clock, self._stranger, self._double, self._link, self._freeze, self._off),
                *(self._fault, self._fault, self._mend, self._mend, self._mend),
            )
        )()

    def _restart(self) -> None:
        off_s = self.random.choice((1.0, 30.0, 600.0))
        self._say(f"restart after {off_s} s")
        self.starts += 1
        self.loop.restart(clean=self.random.random() < 0.3, off_s=off_s)

    def _clock(self) -> None:
        self.nodes.skew_s = self.random.choice((0.0, -3600.0, 3600.0, DAY_S, -DAY_S, 400 * DAY_S, self.nodes.skew_s + 4.0))
        self._say(f"wall clock off by {self.nodes.skew_s} s")

    def _stranger(self) -> None:
        """Seldom, for it latches: a stranger's command, sent word for word as ours are."""
        if self.random.random() < 0.8 or self.strangers:
            return
        self.strangers += 1
        self._say("a stranger's command")
        body = b'{"do":"on","no":999999,"owner":"another","node_boot":"none","valid_until_ms":1,"level":1.0,"expires_s":10.0}'
        self.loop.deliver([Outgoing(self.nodes.command_topic("acid"), body)])

    def _double(self) -> None:
        """The last messages come again, in another order."""
        again = [Outgoing(m.topic, m.payload) for m in self.nodes.due()]
        self._say(f"{len(again)} messages twice")
        self.random.shuffle(again)
        self.loop.deliver(again + again[::-1])

    def _fault(self) -> None:
        name = self.random.choice(FAULTS)
        self._say(f"fault {name}")
        self.standing.add(name)
        self.loop.set_fault(name, True)

    def _mend(self) -> None:
        for name in sorted(self.standing):
            self.loop.set_fault(name, False)
        self.standing.clear()
        self.loop.hears = self.loop.sends = self.loop.journal_ok = True
        self.loop.off_lost = False
        self._say("everything mended")

    def _link(self) -> None:
        self.loop.hears, self.loop.sends = self.random.random() < 0.5, self.random.random() < 0.5
        self.loop.journal_ok = self.random.random() < 0.7
        self._say(f"hears {self.loop.hears}, sends {self.loop.sends}, record {self.loop.journal_ok}")

    def _off(self) -> None:
        self.loop.off_lost = True
        self._say("OFFs get lost")

    def _freeze(self) -> None:
        self._say("frozen for 40 s")
        self.loop.freeze(40.0)

    def check(self, moment: Moment) -> None:
        decision = moment.decision
        granted = {self.sites[str(c.feeder)].lockout_group for c in decision.commands if isinstance(c, FeedOn)}
        assert len(granted) < 2, "both chemicals granted in one step"
        assert len(decision.commands) == len(self.sites)
        assert all(c.why.code for c in decision.commands if isinstance(c, FeedOff))
        if not decision.evidence.flow.proven:
            assert not granted, "granted without flow"
        assert self.plant.ran_together_s == 0.0
        self._check_booked(moment)

    def _check_booked(self, moment: Moment) -> None:
        """Nothing that the node fed is missing from the ledger, whatever restarts lost."""
        for name, feeder in self.sites.items():
            metered_g = self.plant.on_s.get(name, 0.0) * feeder.rate_g_s
            booked_g = moment.state.durable.ledger.of(feeder.id).total_g
            assert booked_g >= metered_g - 1e-6, f"{name}: {metered_g} g metered, {booked_g} g booked"

    def check_windows(self) -> None:
        """Over any window that ends with a run, hence over any window at all."""
        volume = self.loop.plan.site.pool.volume_m3
        for (substance, window_s), limit in LIMITS_MG_L.items():
            names = {name for name, feeder in self.sites.items() if feeder.substance is Substance(substance)}
            runs = [(a, b, lv * self.sites[who].rate_g_s) for who, a, b, lv in self.plant.runs if who in names]
            first, inside_g = 0, 0.0
            for end in runs:
                inside_g += (end[1] - end[0]) * end[2]
                while runs[first][1] <= end[1] - window_s:
                    inside_g -= (runs[first][1] - runs[first][0]) * runs[first][2]
                    first += 1
                cut_s = max(0.0, end[1] - window_s - runs[first][0])
                mg_l = (inside_g - cut_s * runs[first][2]) / volume
                assert mg_l <= limit + NOISE, f"{mg_l} mg/L of {substance} within {window_s} s up to {end[1]} s"


def _always_thirsty(params: PlantParams) -> PlantParams:
    """The pump always runs, chlorine and acid are always wanted."""
    water = replace(params.water, free_chlorine_mg_l=0.6, ph=7.8, demand_mg_l_day=2.5, co2_transfer_cm_h=12.0)
    return replace(params, water=water, circulation=CirculationParams(hours=((0.0, 24.0),)))
