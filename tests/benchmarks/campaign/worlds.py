"""Worlds of the campaign: a pool that has lived a day and more, its branches, and what is written down of each."""

from bisect import bisect_right
from dataclasses import dataclass, field
from functools import lru_cache

from dosectl.model.feeds import FeedOn
from dosectl.model.verdicts import Denial, Limit
from dosectl.pool_model.plant import PoolPlant
from dosectl.pool_model.scenarios import QUINCE_HOUSE_START, quince_house
from dosectl.rehearsal.loop import Moment, demo_loaded
from dosectl.rehearsal.wired import WiredLoop
from tests.benchmarks.campaign.cases import DAY_S, HOUR_S

CLOSE_S = 600.0
ORDINARY = {"mixing.wait", "lockout.spacing", "flow.settle", "mass.single"}
CUTS = ("mass.learned", "chlorine.response", "test.contradicted", "acid.budget", "clock.doubt", "high.ph")


@dataclass
class Trace:
    """What a world did: at each step, time since the branch, the true water, flow, and what was fed in all [g]."""

    at_s: list[float] = field(default_factory=list)
    free: list[float] = field(default_factory=list)
    ph: list[float] = field(default_factory=list)
    flow_s: list[float] = field(default_factory=list)
    chlorine_g: list[float] = field(default_factory=list)
    acid_g: list[float] = field(default_factory=list)
    objected: list[tuple[float, str, str]] = field(default_factory=list)
    alarms: list[tuple[float, str, int]] = field(default_factory=list)
    in_band_s: list[float] = field(default_factory=list)  # so long in band by then
    low_s: float = 0.0
    first_off_s: dict[str, float] = field(default_factory=dict)  # by substance: when all its feeders were first asked off
    flowless_s: float = 0.0
    together_s: float = 0.0

    def upto(self, at_s: float) -> int:
        """Index of the last step at or before a moment."""
        return max(0, bisect_right(self.at_s, at_s) - 1)

    def in_band_until(self, at_s: float) -> float:
        """Share of the time up to a moment in which the chlorine was in its band."""
        last = self.upto(at_s)
        return self.in_band_s[last] / self.at_s[last]


class World:
    """A loop and what it does, counted from a branch."""

    def __init__(self, loop: WiredLoop) -> None:
        self.loop = loop
        self.trace = Trace()
        truth = loop.plant.truth()
        self._from_s = loop.elapsed_s
        self._flow_s = 0.0
        self._flowless0_s = truth.fed_without_flow_s
        self._together0_s = loop.plant.ran_together_s
        self._fed0 = (truth.fed_chlorine_g, truth.fed_acid_g)
        decision = loop.last
        self._standing: set[str] = set() if decision is None else set(_objections(decision.objections))
        self._before_s = loop.elapsed_s

    @property
    def since_s(self) -> float:
        return self.loop.elapsed_s - self._from_s

    def step(self, dt_s: float | None = None) -> Moment:
        moment = self.loop.one(dt_s)
        truth, trace = moment.truth, self.trace
        passed_s = self.loop.elapsed_s - self._before_s
        self._before_s = self.loop.elapsed_s
        self._flow_s += passed_s * truth.flow
        target = max(2.0, 0.05 * truth.cya_mg_l)
        inside_s = passed_s * (0.75 * target <= truth.free_chlorine_mg_l <= 1.5 * target)
        trace.in_band_s.append((trace.in_band_s[-1] if trace.in_band_s else 0.0) + inside_s)
        trace.low_s += passed_s * (truth.free_chlorine_mg_l < 1.0)
        trace.at_s.append(self.since_s)
        trace.free.append(truth.free_chlorine_mg_l)
        trace.ph.append(truth.ph)
        trace.flow_s.append(self._flow_s)
        trace.chlorine_g.append(truth.fed_chlorine_g - self._fed0[0])
        trace.acid_g.append(truth.fed_acid_g - self._fed0[1])
        trace.flowless_s = truth.fed_without_flow_s - self._flowless0_s
        trace.together_s = self.loop.plant.ran_together_s - self._together0_s
        wanted = {self.loop.plan.site.feeder(c.feeder).substance.value for c in moment.decision.commands if isinstance(c, FeedOn)}
        for substance in {"chlorine", "acid"} - wanted:
            trace.first_off_s.setdefault(substance, self._flow_s)
        now = _objections(moment.decision.objections)
        trace.objected.extend((self.since_s, guard, now[guard]) for guard in now if guard not in self._standing)
        self._standing = set(now)
        for change in moment.decision.alarms:
            if change.change in ("raised", "worse"):
                trace.alarms.append((self.since_s, str(change.code), int(change.priority)))
        return moment

    def latched(self) -> list[str]:
        """Latched trips that stand."""
        return sorted({key.partition(":")[0] for key, memory in self.loop.state.working.memories.items() if memory.latched})


def _objections(objections: object) -> dict[str, str]:
    """Guards that deny or cut, in causal order, with the reason's code."""
    found: dict[str, str] = {}
    for verdicts in objections.values():  # type: ignore[attr-defined]
        for verdict in verdicts:
            guard = str(verdict.guard)
            if isinstance(verdict, Denial) or (
                isinstance(verdict, Limit) and (guard.startswith(CUTS) or verdict.why.code.endswith(".fallback"))
            ):
                found.setdefault(guard, str(verdict.why.code))
    return found


@lru_cache(maxsize=4)
def bases(pool: str) -> dict[str, WiredLoop]:
    """The world at the begin of each phase of its second day; the second has a hypochlorite pump in place of the cell."""
    hypochlorite = pool == "hypo"
    plant = PoolPlant(quince_house(hypochlorite), QUINCE_HOUSE_START, 7)
    loop = WiredLoop(demo_loaded(hypochlorite), plant)
    for quantity in ("free_chlorine", "ph"):
        loop.water_test(quantity)
    loop.ask("refill", (("feeder", "acid"), ("container_ml", 5000.0)))
    found: dict[str, WiredLoop] = {}
    on_s: dict[str, float] = {}
    while len(found) < 4 and loop.elapsed_s < 3 * DAY_S:
        before_s = loop.elapsed_s
        loop.one()
        passed_s = loop.elapsed_s - before_s
        on = {loop.plan.site.feeder(feeder).substance.value for feeder in loop.running()}
        truth = loop.plant.truth()
        state = f"{on.pop()}_on" if on else ("idle" if truth.flow else "night")
        on_s = {state: on_s.get(state, 0.0) + passed_s}
        enough_s = {"chlorine_on": 60.0, "acid_on": 20.0, "idle": 600.0, "night": 6 * HOUR_S}[state]
        if loop.elapsed_s > 26 * HOUR_S and state not in found and on_s[state] >= enough_s:
            found[state] = loop.branch()
    started = found["idle"].branch()
    started.restart(off_s=5.0)
    for _ in range(20):
        started.one(3.0)
    found["start_hold"] = started
    return found


@lru_cache(maxsize=12)
def twin_of(pool: str, phase: str, hours: float) -> Trace:
    """The same world without a fault."""
    world = World(bases(pool)[phase].branch())
    world.loop.close_until_s = world.loop.elapsed_s + CLOSE_S
    while world.since_s < hours * HOUR_S:
        world.step()
    return world.trace
