"""One run of the campaign: a world that has lived a day and more, a fault in it, and the same world without it beside."""

from collections import Counter
from dataclasses import dataclass, field
from functools import lru_cache

from dosectl.chemistry.chlorine import upper_free_chlorine_limit_mg_l
from dosectl.model.feeds import FeedOn, Substance
from dosectl.model.verdicts import Denial, Limit
from dosectl.pool_model.plant import PoolPlant
from dosectl.pool_model.scenarios import QUINCE_HOUSE_START, quince_house
from dosectl.rehearsal.loop import Moment, demo_loaded
from dosectl.rehearsal.wired import WiredLoop
from tests.benchmarks.campaign.cases import CASES, DAY_S, HOUR_S, PHASES, Case

FREE_MAX_MG_L, PH_MIN, PH_MAX = 10.0, 6.5, 8.5  # design/safety.md, rule 11 and the bound of every test
RECOVER_H = 30.0
CLOSE_S = 600.0
FLOWLESS_S_MAX = 15.0  # the longest that the node contract lets a command live
ORDINARY = {"mixing.wait", "lockout.spacing", "flow.settle", "mass.single"}
CUTS = ("mass.learned", "chlorine.response", "acid.budget", "clock.doubt", "high.ph")


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
    in_band_s: float = 0.0
    low_s: float = 0.0
    flowless_s: float = 0.0
    together_s: float = 0.0

    def upto(self, at_s: float) -> int:
        """Index of the last step at or before a moment."""
        from bisect import bisect_right

        return max(0, bisect_right(self.at_s, at_s) - 1)


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
        trace.in_band_s += passed_s * (0.75 * target <= truth.free_chlorine_mg_l <= 1.5 * target)
        trace.low_s += passed_s * (truth.free_chlorine_mg_l < 1.0)
        trace.at_s.append(self.since_s)
        trace.free.append(truth.free_chlorine_mg_l)
        trace.ph.append(truth.ph)
        trace.flow_s.append(self._flow_s)
        trace.chlorine_g.append(truth.fed_chlorine_g - self._fed0[0])
        trace.acid_g.append(truth.fed_acid_g - self._fed0[1])
        trace.flowless_s = truth.fed_without_flow_s - self._flowless0_s
        trace.together_s = self.loop.plant.ran_together_s - self._together0_s
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
def _bases(pool: str) -> dict[str, WiredLoop]:
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
def _twin(pool: str, phase: str, hours: float) -> Trace:
    world = World(_bases(pool)[phase].branch())
    world.loop.close_until_s = world.loop.elapsed_s + CLOSE_S
    while world.since_s < hours * HOUR_S:
        world.step()
    return world.trace


@dataclass
class Result:
    """One row. Times in s from the fault; masses in mg/L; None where it did not come."""

    fault: str
    phase: str
    pool: str
    free_max: float = 0.0
    ph_min: float = 14.0
    ph_max: float = 0.0
    first_objection_s: float | None = None
    first_out: str = ""
    first_alarm_s: float | None = None
    first_alarm: str = ""
    alarms: str = ""
    alarm_count: int = 0
    called_flow_s: float | None = None
    flowless_s: float = 0.0
    together_s: float = 0.0
    fed_chlorine: float = 0.0
    fed_acid: float = 0.0
    twin_chlorine: float = 0.0
    twin_acid: float = 0.0
    twin_in_band: float = 0.0
    low_h: float = 0.0
    over_limit: bool = False
    feeds_again_h: float | None = None
    latched: str = ""
    harm: str = "held"
    failures: str = ""


def one(fault: str, phase: str, pool: str, second: str | None = None, stands_h: float | None = None, recover: bool = True) -> Result:
    """Runs a fault, or two: the second half an hour after the first, both until the end."""
    cases = [CASES[name] for name in (fault, second) if name]
    hours = stands_h if stands_h is not None else max(case.stands_h for case in cases)
    twin = _twin(pool, phase, 168.0 if hours + RECOVER_H > 78 else 78.0)
    world = World(_bases(pool)[phase].branch())
    base = world.loop.branch()
    _stand(world, cases, hours)
    result = Result("+".join(case.name for case in cases), phase, pool)
    ended = world.trace.upto(1e12)
    if recover:
        _recover(world, cases, twin, result)
    _sum_up(result, world, twin, cases, hours, ended)
    _judge(result, world.trace, cases, base, hours, recover)
    return result


def _stand(world: World, cases: list[Case], hours: float) -> None:
    begun: list[tuple[Case, float]] = []
    waiting = list(cases)
    while world.since_s < hours * HOUR_S:
        if waiting and (not begun or world.since_s >= 1800.0):
            case = waiting.pop(0)
            world.loop.close_until_s = world.loop.elapsed_s + CLOSE_S
            case.begin(world.loop)
            begun.append((case, world.since_s))
            world.step(0.0 if case.name != "flow_blink" else 0.2)
        for case, at_s in begun:
            case.each(world.loop, world.since_s - at_s)
        world.step()


def _recover(world: World, cases: list[Case], twin: Trace, result: Result) -> None:
    """The faults end; until everything that the twin feeds from then on has been fed again."""
    for case in reversed(cases):
        case.end(world.loop)
    ended_s = world.since_s
    world.loop.close_until_s = world.loop.elapsed_s + CLOSE_S
    left = {Substance.CHLORINE, Substance.ACID}
    while left and world.since_s < ended_s + RECOVER_H * HOUR_S:
        moment = world.step()
        for command in moment.decision.commands:
            if isinstance(command, FeedOn):
                left.discard(world.loop.plan.site.feeder(command.feeder).substance)
    result.latched = ", ".join(world.latched())
    if not left:
        result.feeds_again_h = round((world.since_s - ended_s) / HOUR_S, 2)
    elif not result.latched:
        barred = [item.value for item in left if _barred(world, item)]
        if barred:
            result.failures = f"not fed again, though nothing is latched: {', '.join(sorted(barred))}; "
        else:
            result.feeds_again_h = RECOVER_H  # permitted, and not wanted


def _barred(world: World, substance: Substance) -> bool:
    """Whether a guard denies every feeder of a substance now, water flowing."""
    decision = world.loop.last
    assert decision is not None
    feeders = world.loop.plan.site.feeding(substance)
    denied = [
        any(isinstance(v, Denial) and str(v.guard) not in ORDINARY for v in decision.objections.get(feeder, ())) for feeder in feeders
    ]
    return all(denied) and world.loop.plant.truth().flow


def _sum_up(result: Result, world: World, twin: Trace, cases: list[Case], hours: float, ended: int) -> None:
    trace, volume = world.trace, world.loop.plan.site.pool.volume_m3
    result.free_max, result.ph_min, result.ph_max = max(trace.free), min(trace.ph), max(trace.ph)
    twin_end = twin.upto(hours * HOUR_S)
    result.fed_chlorine, result.fed_acid = trace.chlorine_g[ended] / volume, trace.acid_g[ended] / volume
    result.twin_chlorine, result.twin_acid = twin.chlorine_g[twin_end] / volume, twin.acid_g[twin_end] / volume
    result.twin_in_band = twin.in_band_s / twin.at_s[-1]
    result.low_h = round(trace.low_s / HOUR_S, 1)
    result.flowless_s = round(max(0.0, trace.flowless_s - twin.flowless_s), 1)
    result.together_s = round(trace.together_s, 1)
    result.over_limit = result.free_max > upper_free_chlorine_limit_mg_l(world.loop.plant.truth().cya_mg_l)
    for at_s, guard, code in trace.objected:
        near = any(abs(at_s - other_s) < 300.0 and guard == other for other_s, other, _ in twin.objected)
        if guard not in ORDINARY and not near and at_s <= hours * HOUR_S:
            result.first_objection_s, result.first_out = at_s, f"{guard} ({code})"
            break
    alarms: Counter[str] = Counter()
    for at_s, code, _ in trace.alarms:
        if any(abs(at_s - other_s) < 1800.0 and code == other for other_s, other, _ in twin.alarms):
            continue
        alarms[code] += 1
        if result.first_alarm_s is None:
            result.first_alarm_s, result.first_alarm = at_s, code
            result.called_flow_s = twin.flow_s[twin.upto(at_s)]
    result.alarms = ", ".join(alarms)
    result.alarm_count = sum(alarms.values())


def _judge(result: Result, trace: Trace, cases: list[Case], base: WiredLoop, hours: float, recover: bool) -> None:
    failures = result.failures
    if not (result.free_max <= FREE_MAX_MG_L and result.ph_min >= PH_MIN and result.ph_max <= PH_MAX):
        result.harm = _whose(result, cases, base, hours)
        if result.harm == "OURS":
            failures += "harm bound passed by our feeding; "
    stuck = any("stuck_on" in case.name for case in cases)
    if result.flowless_s > FLOWLESS_S_MAX and not stuck:
        failures += f"fed {result.flowless_s} s into no flow; "
    if result.together_s > FLOWLESS_S_MAX:
        failures += f"both ran for {result.together_s} s; "
    due = [case.called_s for case in cases if case.called_s is not None]
    if due and (result.called_flow_s is None or result.called_flow_s > min(due) + (1800.0 if len(cases) > 1 else 0.0)):
        late = "never" if result.called_flow_s is None else f"after {result.called_flow_s / 60:.0f} min of flow"
        failures += f"called {late}, stated {min(due) / 60:.0f} min; "
    if hours >= 12 and (result.twin_chlorine <= 0.0 or result.twin_in_band < 0.7):
        failures += "the twin does not keep its pool; "
    result.failures = failures.rstrip("; ")


def _whose(result: Result, cases: list[Case], base: WiredLoop, hours: float) -> str:
    """The same fault with every ON of ours withheld: what passes the bounds then is not our feeding's."""
    base.muted = True
    world = World(base)
    _stand(world, cases, hours)
    trace = world.trace
    over = result.free_max > FREE_MAX_MG_L and max(trace.free) < result.free_max - 0.5 and max(trace.free) <= FREE_MAX_MG_L
    low = result.ph_min < PH_MIN and min(trace.ph) > PH_MIN
    high = result.ph_max > PH_MAX and max(trace.ph) <= PH_MAX
    return "OURS" if over or low or high else "passed, as without any feed of ours"


def jobs(faults: list[str], phases: tuple[str, ...] = PHASES) -> list[tuple[str, str, str]]:
    """Every fault x phase x pool that makes sense."""
    from tests.benchmarks.campaign.cases import POOLS, meant_for

    return [(fault, phase, pool) for pool in POOLS for phase in phases for fault in faults if meant_for(fault, pool)]
