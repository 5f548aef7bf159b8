"""One pool held one way, counted after its warm-up."""

from dataclasses import dataclass
from datetime import timedelta
from functools import lru_cache
from math import log

from dosectl.core.alarms.catalogue import BY_CODE
from dosectl.core.alarms.states import standing
from dosectl.core.alarms.view import Priority
from dosectl.core.estimate import WaterView
from dosectl.model.feeds import FeedOn
from dosectl.model.verdicts import Denial
from dosectl.pool_model.params import CellParams, PlantParams
from dosectl.pool_model.plant import PoolPlant
from dosectl.rehearsal.loop import ClosedLoop, Moment, demo_loaded
from tests.benchmarks.control.count import BANDS, Count
from tests.benchmarks.control.lacks import LACKS, NOTHING
from tests.benchmarks.control.owner import Noted, Owner
from tests.benchmarks.control.pools import TANK_ML, WARM_UP_DAYS, Believed, drawn, named
from tests.benchmarks.control.ways import WAYS, AcidByProbe, Oracle, Sight, Tuning, Way

UNTUNED = Tuning()
STEP_S = 120.0
STEP_H = STEP_S / 3600.0
FULL_PERCENT = 95.0  # whoever leaves fills up first; then nobody does
OTHER_SEED = 5000  # of the fortnight before: no seed of the comparison or of its tuning


@dataclass(frozen=True, slots=True)
class Job:
    """`way`: "dosectl", "dosectl new" (no history, no warm-up), "oracle", or one of `WAYS`; `days`: fewer than the scenario's;
    `lacks`: what is taken away (`lacks.LACKS`); `when_asked`: the owner tests when dosectl asks, not each week."""

    scenario: str
    seed: int
    pump: bool
    way: str
    tuning: Tuning = UNTUNED
    keep_days: bool = False
    days: float | None = None
    lacks: str = NOTHING
    when_asked: bool = False


def _pool(job: Job) -> tuple[PlantParams, Believed]:
    lack = LACKS[job.lacks]
    params, believed = drawn(named(job.scenario), job.seed, job.pump)
    return lack.params(params), lack.believed(params, believed)


def run(job: Job) -> Count:
    """Plays one job. Deterministic."""
    scenario = named(job.scenario)
    lack = LACKS[job.lacks]
    params, believed = _pool(job)
    warm = 0.0 if job.way == "dosectl new" else WARM_UP_DAYS
    plant = PoolPlant(params, scenario.start, job.seed)
    end = warm + (scenario.days if job.days is None else job.days)
    owner = Owner(plant, job.seed, (0.0, end if scenario.tested else warm), job.when_asked)
    held = _by_dosectl(job, plant, believed) if job.way.startswith("dosectl") else _by_rival(job, plant, believed)
    count = Count()
    steps = round(end * 24.0 / STEP_H)
    per_hour = round(1.0 / STEP_H)
    for number in range(steps):
        if number % per_hour == 0:
            counting = number * STEP_H >= warm * 24.0
            if counting and lack.fault is not None and lack.fault not in plant.faults:
                plant.set_fault(lack.fault, True)
            for note in owner.hour(held.calls()):
                heard = lack.heard(plant, note) if counting else note
                if heard is not None:
                    held.told(heard)
            leaving = not scenario.at_home and number == round(warm * 24.0 * per_hour)
            for feeder in owner.below(FULL_PERCENT) if leaving else owner.refills:
                held.refill(feeder)
            owner.refills = []
            if leaving:
                plant.empty_house()
        counted = number * STEP_H >= warm * 24.0
        held.step(count if counted else None)
        if counted and number % (24 * per_hour) == 0 and job.keep_days:
            held.note_day(count)
    count.walks = owner.walks
    return count


class _Rival:
    def __init__(self, plant: PoolPlant, way: Way) -> None:
        self._plant, self._way, self._acid = plant, way, AcidByProbe()
        self._flow_h = 0.0
        self._chlorine = next(name for name in plant.feeders if name != "acid")
        self._on = False
        self.full_output_h = 0.0

    def told(self, note: Noted) -> None:
        self._way.told(note)
        self._acid.told(note)

    def calls(self) -> frozenset[str]:
        """None: nothing but dosectl tells anybody anything."""
        return frozenset()

    def refill(self, feeder: str) -> None:
        self._plant.add_by_hand(f"{feeder}_container_ml", TANK_ML)  # no more than its container takes

    def note_day(self, count: Count) -> None:
        """Nothing: a rival states no estimate."""

    def step(self, count: Count | None) -> None:
        plant = self._plant
        sent = plant.signals()
        flow = bool(sent["flow"]) and float(sent["pump_w"]) > 300.0
        self._flow_h = self._flow_h + STEP_H if flow else 0.0
        sight = Sight(plant.utc, float(sent["orp_mv"]), float(sent["ph"]), flow, self._flow_h, plant)
        acid = self._acid.level(sight, STEP_H)
        level = 0.0 if acid > 0.0 else self._way.level(sight, STEP_H)
        before_g = plant.truth().fed_chlorine_g
        plant.advance(STEP_S, {self._chlorine: level, "acid": acid})
        truth = plant.truth()
        if count is not None:
            count.add(truth, STEP_H)
            count.chlorine_g += truth.fed_chlorine_g - before_g
            count.starts += level > 0.0 and not self._on
        self.full_output_h += level * STEP_H
        self._on = level > 0.0


class _Dosectl:
    def __init__(self, plant: PoolPlant, loop: ClosedLoop) -> None:
        self._plant, self._loop = plant, loop
        self._on = False
        self._latched: set[str] = set()
        self._news: list[str] = []
        self._cold_h = 0.0  # of the day that is told
        self._moment: Moment | None = None

    def told(self, note: Noted) -> None:
        self._loop.ask(
            "water_test",
            (("quantity", note.quantity), ("value", note.value), ("method", note.method),
             ("taken_utc", note.taken_utc.isoformat()), ("as_said", True)),
        )  # fmt: skip
        self._news.append(f"test {note.quantity.replace('_', ' ')} {note.value:g}")

    def calls(self) -> frozenset[str]:
        """Codes of the alarms that stand and call somebody, and of those that only ask for something."""
        if self._moment is None:
            return frozenset()
        alarms = standing(self._moment.state.durable.alarms)
        return frozenset(str(a.code) for a in alarms if a.present or BY_CODE[a.code].priority_at(a.level) >= Priority.LOW)

    def refill(self, feeder: str) -> None:
        ml = next(f.container_ml for f in self._loop.plan.site.feeders if f.id == feeder)
        self._plant.add_by_hand(f"{feeder}_container_ml", ml)
        self._loop.ask("refill", (("feeder", feeder), ("container_ml", ml)))
        self._news.append(f"{feeder} refilled")

    def note_day(self, count: Count) -> None:
        if self._moment is not None:
            truth, water = self._moment.truth, self._moment.decision.water
            count.days.append(
                (
                    truth.free_chlorine_mg_l,
                    water.free_chlorine_mg_l,
                    water.low95_mg_l,
                    water.high95_mg_l,
                    truth.cya_mg_l,
                    water.cya_mg_l,
                )
            )
            barred = [f"chlorine barred by cold for {self._cold_h:.0f} h"] if self._cold_h >= 0.5 else []
            count.told.append("; ".join([*barred, *self._news]))
            self._news, self._cold_h = [], 0.0

    def step(self, count: Count | None) -> None:
        before = self._plant.truth()
        moment = self._moment = self._loop.one()
        decision, truth = moment.decision, moment.truth
        on = any(isinstance(c, FeedOn) and c.feeder != "acid" for c in decision.commands)
        latched = {
            str(v.guard) for verdicts in decision.objections.values() for v in verdicts if isinstance(v, Denial) and v.latched
        }
        raised = (c for c in decision.alarms if c.change == "raised" and c.priority >= Priority.LOW)
        self._news += [f"called: {BY_CODE[c.code].title}" for c in raised]
        if count is None:
            self._news = []
        else:
            bad = count.add(truth, STEP_H)
            called = bad and any(
                BY_CODE[a.code].priority_at(a.level) >= Priority.LOW for a in standing(moment.state.durable.alarms)
            )
            count.called_h += STEP_H * called
            count.chlorine_g += truth.fed_chlorine_g - before.fed_chlorine_g
            count.starts += on and not self._on
            count.latched += len(latched - self._latched)
            count.dry_s += truth.fed_without_flow_s - before.fed_without_flow_s
            count.alarms += sum(change.change == "raised" and change.priority >= 2 for change in decision.alarms)
            cold = any(
                str(v.guard).startswith("cold") and isinstance(v, Denial)
                for feeder, verdicts in decision.objections.items() if feeder != "acid" for v in verdicts
            )  # fmt: skip
            count.cold_h += STEP_H * cold
            self._cold_h += STEP_H * cold
            count.cold_dead_h += STEP_H * (cold and truth.hocl_mg_l < 0.010)
            _inside(count, decision.water, truth.free_chlorine_mg_l)
        self._on, self._latched = on, latched


def _inside(count: Count, water: WaterView, free_mg_l: float) -> None:
    sigma = log(water.high95_mg_l / water.low95_mg_l) / (2.0 * 1.96)
    off = abs(log(max(1e-3, free_mg_l) / water.free_chlorine_mg_l)) / sigma
    for name, reach in BANDS.items():
        count.inside[name] += STEP_H * (off <= reach)


def _by_rival(job: Job, plant: PoolPlant, believed: Believed) -> _Rival:
    if job.way == "oracle":
        return _Rival(plant, oracle_for(plant, believed))
    flow_h = sum(end - begin for begin, end in plant.params.circulation.hours)
    usual = usual_mg_l_day(job) * believed.volume_m3 / believed.output_g_h / flow_h
    return _Rival(plant, WAYS[job.way](job.tuning, believed.stabiliser_mg_l, usual))


def oracle_for(plant: PoolPlant, believed: Believed) -> Oracle:
    """With the feeder's true output and the pump's true hours."""
    feeder = next(f for f in plant.params.feeders if isinstance(f, CellParams) or not f.acid)
    g_h = feeder.output_g_h if isinstance(feeder, CellParams) else feeder.rate_ml_h * feeder.strength_g_l / 1000.0
    flow_h = sum(end - begin for begin, end in plant.params.circulation.hours)
    return Oracle(Tuning(), believed.stabiliser_mg_l, g_h / plant.params.water.volume_m3, flow_h)


def usual_mg_l_day(job: Job) -> float:
    """What the pool took a day in the fortnight before, held well, as a ledger under the owner's settings would have booked it:
    by the hours of output, whatever aged hypochlorite then gave. The same pool a fortnight earlier, in another weather with other
    bathers (another seed). These are the accepted days that dosectl starts with; of the rest of the pool it is told what the
    owner believes. The rivals are told the level that makes the same amount."""
    return _before_mg_l_day(job.scenario, job.seed, job.pump, job.lacks)


@lru_cache(maxsize=256)
def _before_mg_l_day(scenario: str, seed: int, pump: bool, lacks: str) -> float:
    params, believed = _pool(Job(scenario, seed, pump, "oracle", lacks=lacks))
    begin = named(scenario).start - timedelta(days=WARM_UP_DAYS)
    return taken_mg_l_day(PoolPlant(params, begin, seed + OTHER_SEED), believed)


def taken_mg_l_day(plant: PoolPlant, believed: Believed) -> float:
    """What a plant takes a day over a fortnight of being held well, which it lives: as the believed output books it. [mg/L]"""
    held = _Rival(plant, oracle_for(plant, believed))
    for _ in range(round(WARM_UP_DAYS * 24.0 / STEP_H)):
        held.step(None)
    return held.full_output_h * believed.output_g_h / believed.volume_m3 / WARM_UP_DAYS


def _by_dosectl(job: Job, plant: PoolPlant, believed: Believed) -> _Dosectl:
    def typed_in(text: str) -> str:
        """The owner's settings, as believed."""
        for old, new in (
            ("volume_m3 = 50.0", f"volume_m3 = {believed.volume_m3:.1f}"),
            ("stabiliser_mg_l = 50", f"stabiliser_mg_l = {believed.stabiliser_mg_l:.0f}"),
            ("alkalinity_mg_l = 80", f"alkalinity_mg_l = {believed.alkalinity_mg_l:.0f}"),
            ("output_g_h = 20", f"output_g_h = {believed.output_g_h:.1f}"),
            ("rate_ml_min = 10\n", f"rate_ml_min = {believed.rate_ml_min:.2f}\n"),
            ("container_l = 20", f"container_l = {TANK_ML / 1000.0:.0f}"),
            ("container_l = 5\n", "container_l = 20\n"),  # the acid's, as the drawn pools have it
            ("strength_g_l = 125", f"strength_g_l = {believed.strength_g_l:.0f}"),
        ):
            text = text.replace(old, new)
        return text + LACKS[job.lacks].settings

    new = job.way == "dosectl new"
    loop = ClosedLoop.of(demo_loaded(job.pump, typed_in), plant, step_s=STEP_S, use_mg_l_day=None if new else usual_mg_l_day(job))
    return _Dosectl(plant, loop)
