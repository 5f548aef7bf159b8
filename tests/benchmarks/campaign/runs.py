"""One run of the campaign: a fault in a world, judged beside the same world without it."""

from collections import Counter
from dataclasses import dataclass

from dosectl.chemistry.chlorine import upper_free_chlorine_limit_mg_l
from dosectl.model.feeds import FeedOn, Substance
from dosectl.model.verdicts import Denial
from dosectl.rehearsal.wired import WiredLoop
from tests.benchmarks.campaign.cases import CASES, HOUR_S, PHASES, POOLS, Case, called_within_s, meant_for
from tests.benchmarks.campaign.cases import stands_h as stands_of
from tests.benchmarks.campaign.code import NOT_NOTED, code_now
from tests.benchmarks.campaign.worlds import CLOSE_S, ORDINARY, Trace, World, bases, twin_of

FREE_MAX_MG_L, PH_MIN, PH_MAX = 10.0, 6.5, 8.5  # design/safety.md, rule 11 and the bound of every test
RECOVER_H = 30.0
APART_S = 1800.0  # a pair's second fault after its first
TWIN_H = (12.0, 36.0, 66.0, 160.0, 1000.0)
FLOWLESS_S_MAX = 15.0  # the longest that the node contract lets a command live


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
    stands_h: float | None = None  # how long the fault stood; None in rows from before it was noted
    code: str = NOT_NOTED
    apart_s: float | None = None  # of a pair: how long after the first the second began


def one(
    fault: str,
    phase: str,
    pool: str,
    second: str | None = None,
    stands_h: float | None = None,
    recover: bool = True,
    apart_s: float = APART_S,
) -> Result:
    """Runs a fault, or two: the second `apart_s` after the first, both until the end."""
    cases = [CASES[name] for name in (fault, second) if name]
    hours = stands_h if stands_h is not None else max(stands_of(case, phase) for case in cases)
    needed_h = hours + RECOVER_H * recover
    twin = twin_of(pool, phase, next(span_h for span_h in TWIN_H if span_h >= needed_h))
    world = World(bases(pool)[phase].branch())
    base = world.loop.branch()
    begun_s = _stand(world, cases, hours, apart_s)
    result = Result(
        "+".join(case.name for case in cases), phase, pool, stands_h=hours, code=code_now(), apart_s=apart_s if second else None
    )
    ended = world.trace.upto(1e12)
    if recover:
        _recover(world, cases, twin, result)
    _sum_up(result, world, twin, cases, hours, ended)
    _judge(result, world.trace, cases, base, hours, twin, begun_s)
    return result


def _stand(world: World, cases: list[Case], hours: float, apart_s: float) -> list[float]:
    """When each fault began [s]: where nothing runs a step takes a minute, so the second begins up to that much late."""
    begun: list[tuple[Case, float]] = []
    waiting = list(cases)
    while world.since_s < hours * HOUR_S:
        before = len(begun)
        while waiting and (not begun or world.since_s >= apart_s):
            case = waiting.pop(0)
            world.loop.close_until_s = world.loop.elapsed_s + CLOSE_S
            case.begin(world.loop)
            begun.append((case, world.since_s))
        if len(begun) > before:
            world.step(0.2 if any(case.name == "flow_blink" for case, _ in begun[before:]) else 0.0)
        for case, at_s in begun:
            case.each(world.loop, world.since_s - at_s)
        world.step()
    return [at_s for _, at_s in begun]


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
        any(isinstance(v, Denial) and str(v.guard) not in ORDINARY for v in decision.objections.get(feeder, ()))
        for feeder in feeders
    ]
    return all(denied) and world.loop.plant.truth().flow


# True in any pool that lacks acid or a test, and no call of the fault: whoever follows them does not find it.
ASKS_FOR_OTHER = ("water.test_due", "feed.acid_budget_low")
# Here the call for more hours leads to the fault: it asks to have the feeder looked at where they are long already.
HOURS_SHORT, LEADS_THERE = "pump.hours_short", ("pump_off", "cell_scaled")


def _sum_up(result: Result, world: World, twin: Trace, cases: list[Case], hours: float, ended: int) -> None:
    trace, volume = world.trace, world.loop.plan.site.pool.volume_m3
    result.free_max, result.ph_min, result.ph_max = max(trace.free), min(trace.ph), max(trace.ph)
    twin_end = twin.upto(hours * HOUR_S)
    result.fed_chlorine, result.fed_acid = trace.chlorine_g[ended] / volume, trace.acid_g[ended] / volume
    result.twin_chlorine, result.twin_acid = twin.chlorine_g[twin_end] / volume, twin.acid_g[twin_end] / volume
    # Over the time of this case alone: the twin is shared by cases of up to a week, in which nobody tests the water.
    result.twin_in_band = twin.in_band_until(trace.at_s[-1])
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
        leads = code not in ASKS_FOR_OTHER and (code != HOURS_SHORT or any(case.name in LEADS_THERE for case in cases))
        if result.first_alarm_s is None and leads:
            result.first_alarm_s, result.first_alarm = at_s, code
            result.called_flow_s = twin.flow_s[twin.upto(at_s)]
            if cases[0].name.endswith("stuck_on") and len(cases) == 1:
                # Welded while it is wanted is no deviation yet: counted from the moment it is asked off.
                asked_off_s = trace.first_off_s.get(cases[0].name.split("_")[0], 0.0)
                result.called_flow_s = max(0.0, result.called_flow_s - asked_off_s)
    result.alarms = ", ".join(alarms)
    result.alarm_count = sum(alarms.values())


def _judge(
    result: Result, trace: Trace, cases: list[Case], base: WiredLoop, hours: float, twin: Trace, begun_s: list[float]
) -> None:
    failures = result.failures
    if not (result.free_max <= FREE_MAX_MG_L and result.ph_min >= PH_MIN and result.ph_max <= PH_MAX):
        result.harm = _whose(result, cases, base, hours, trace.at_s[-1])
        if result.harm == "OURS":
            failures += "harm bound passed by our feeding; "
    stuck = any("stuck_on" in case.name for case in cases)
    if result.flowless_s > FLOWLESS_S_MAX and not stuck:
        failures += f"fed {result.flowless_s} s into no flow; "
    if result.together_s > FLOWLESS_S_MAX:
        failures += f"both ran for {result.together_s} s; "
    timed = cases if len(cases) == 1 else [case for case in cases if not case.name.endswith("stuck_on")]
    at_once = result.apart_s == 0.0
    asked = [
        called_within_s(case, result.phase, beside=[other.name for other in cases if other is not case], at_once=at_once)
        for case in timed
    ]
    last_s = twin.flow_s[twin.upto(begun_s[-1])]  # a pair's time counts from the second
    due = [last_s + called_s for called_s in asked if called_s is not None and called_s < twin.flow_s[twin.upto(hours * HOUR_S)]]
    if due and (result.called_flow_s is None or result.called_flow_s > min(due)):
        late = "never" if result.called_flow_s is None else f"after {result.called_flow_s / 60:.0f} min of flow"
        failures += f"called {late}, stated {min(due) / 60:.0f} min; "
    if hours >= 12 and (result.twin_chlorine <= 0.0 or result.twin_in_band < 0.7):
        failures += "the twin does not keep its pool; "
    result.failures = failures.rstrip("; ")


def _whose(result: Result, cases: list[Case], base: WiredLoop, hours: float, until_s: float) -> str:
    """The same fault for the same time with every ON of ours withheld: what passes the bounds then is not our feeding's."""
    base.muted = True
    world = World(base)
    _stand(world, cases, hours, result.apart_s or 0.0)
    for case in reversed(cases):
        case.end(world.loop)
    while world.since_s < until_s:
        world.step()
    trace = world.trace
    over = result.free_max > FREE_MAX_MG_L and max(trace.free) <= FREE_MAX_MG_L
    low = result.ph_min < PH_MIN and min(trace.ph) >= PH_MIN
    high = result.ph_max > PH_MAX and max(trace.ph) <= PH_MAX
    return "OURS" if over or low or high else "passed, as without any feed of ours"


def jobs(faults: list[str], phases: tuple[str, ...] = PHASES) -> list[tuple[str, str, str]]:
    """Every fault x phase x pool that makes sense."""
    return [(fault, phase, pool) for pool in POOLS for phase in phases for fault in faults if meant_for(fault, pool)]
