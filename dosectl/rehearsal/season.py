"""Runs a pool for weeks and counts what a person would ask about: hours in band, trips, alarms, starts, mass fed.

The owner of these runs tests the water once a week and the stabiliser each four, refills containers when they run low and lifts
alkalinity and stabiliser by hand, entering what was added, as the reminders say; one who heeds calls also tests the chlorine on
the morning after a call that asks for it. Nothing else is done by hand.
"""

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from datetime import datetime

from dosectl.chemistry.chlorine import upper_free_chlorine_limit_mg_l
from dosectl.core.control.target import band
from dosectl.core.interlocks.arbiter import LIFE_S_MIN
from dosectl.core.interlocks.fallback import is_fallback
from dosectl.core.site import Feeder
from dosectl.model.feeds import FeedOn, Substance
from dosectl.model.verdicts import Denial, Limit
from dosectl.pool_model.params import PlantParams
from dosectl.pool_model.plant import PoolPlant
from dosectl.pool_model.scenarios import random_params
from dosectl.rehearsal.loop import ClosedLoop, Moment, demo_loaded

BICARBONATE_G_PER_MG_L_M3 = 1.68  # NaHCO3, stoichiometry: 84.01 / 50.04
KEEPS_ALKALINITY_MG_L = 65.0
KEEPS_STABILISER_MG_L = 50.0
STABILISER_SLACK_MG_L = 8.0  # less than a test's own error is left alone
REFILLS_UNDER_PERCENT = 40.0  # a small container gives more than a tenth of itself on a hot day, and low is 20 %
ORDINARY = {"flow.proven", "flow.settle", "mixing.wait", "lockout.spacing", "mass.single", "start.hold"}
CUTS = {"mass.learned", "chlorine.response", "test.contradicted"}
ASKS_FOR_A_TEST = {"feed.daily_limit", "feed.learned_use", "water.chlorine_gone", "water.chlorine_low"}
STOCK = "container.level"  # bars a feeder that has nothing to feed: the owner's stock, no guard, takes those hours


@dataclass(slots=True)
class Tally:
    """Counts over a run; hours are of simulated time.

    in_band_h : inside the band that the settings aim for with the true stabiliser; low_h : free chlorine under 1 mg/L
    target_min, target_max : what they aimed for [mg/L], as the stabiliser changed
    starts : by feeder; trips : denials begun, by guard; latched : what only a person ends, also where it cuts and does not deny
    alarms : medium and above, by code; notices : the rest
    flow_h : water flows; lost_h : of these, chlorine was denied, cut, or had used a limit up, by a guard that is no ordinary
    wait; empty_h : its container was empty and no guard took anything; held : hours by guard, the empty container among them
    cya_min, cya_max : true stabiliser; added_g : what the owner put in, by product; refills : by feeder
    """

    hours: float = 0.0
    in_band_h: float = 0.0
    target_min: float = 99.0
    target_max: float = 0.0
    over_limit_h: float = 0.0
    low_h: float = 0.0
    ph_out_h: float = 0.0
    starts: Counter[str] = field(default_factory=Counter)
    latched: Counter[str] = field(default_factory=Counter)
    alarms: Counter[str] = field(default_factory=Counter)
    notices: Counter[str] = field(default_factory=Counter)
    trips: Counter[str] = field(default_factory=Counter)
    free_min: float = 99.0
    free_max: float = 0.0
    ph_min: float = 14.0
    ph_max: float = 0.0
    fed_without_flow_s: float = 0.0
    flow_h: float = 0.0
    lost_h: float = 0.0
    empty_h: float = 0.0
    held: dict[str, float] = field(default_factory=dict)
    cya_min: float = 999.0
    cya_max: float = 0.0
    added_g: Counter[str] = field(default_factory=Counter)
    refills: Counter[str] = field(default_factory=Counter)
    covered_h: float = 0.0  # truth inside the stated 95 % bounds


class Season:
    """One pool with its owner."""

    def __init__(
        self, params: PlantParams, start: datetime, seed: int, hypochlorite: bool = False, use_mg_l_day: float | None = 2.4
    ):
        water = params.water

        def typed_in(text: str) -> str:
            """The owner's settings: the stabiliser and alkalinity of a decent test, the volume as believed."""
            text = text.replace("stabiliser_mg_l = 50", f"stabiliser_mg_l = {water.cya_mg_l:.0f}")
            return text.replace("alkalinity_mg_l = 80", f"alkalinity_mg_l = {water.alkalinity_mg_l:.0f}")

        plant = PoolPlant(params, start, seed)
        self._begin(plant, ClosedLoop.of(demo_loaded(hypochlorite, typed_in), plant, use_mg_l_day=use_mg_l_day))

    @classmethod
    def over(cls, plant: PoolPlant, loop: ClosedLoop) -> "Season":
        """A pool and its controller that are made already, with an owner who keeps the stabiliser as it began."""
        season = cls.__new__(cls)
        season._begin(plant, loop)
        season._keeps_stabiliser_mg_l = plant.params.water.cya_mg_l
        return season

    def _begin(self, plant: PoolPlant, loop: ClosedLoop) -> None:
        self.plant = plant
        self.loop = loop
        self.tally = Tally()
        self._on: set[str] = set()
        self._denied: dict[str, set[str]] = {}
        self._latched: set[str] = set()
        self._step = 0
        self.away = False  # nobody tests, refills or looks
        self.heeds = False  # a call that asks for a test of the chlorine gets one the next morning
        self._called = False
        self._keeps_stabiliser_mg_l = KEEPS_STABILISER_MG_L

    def run(self, days: float, weekly_tests: bool = True) -> Tally:
        """Lets days pass and returns the counts so far."""
        for _ in self.moments(days, weekly_tests):
            pass
        return self.tally

    def moments(self, days: float, weekly_tests: bool = True) -> Iterator[Moment]:
        """As `run`, giving each moment."""
        for moment in self.loop.run(days * 24.0):
            if self._step % (24 * 60) == 0 and not self.away:
                self._owner(self._step // (24 * 60), weekly_tests)
            self._step += 1
            self._count(moment)
            yield moment

    def _owner(self, day: int, weekly_tests: bool) -> None:
        """What the owner does once a day, or once a week."""
        if weekly_tests and day % 7 == 0:
            for quantity in ("free_chlorine", "ph"):
                self.loop.water_test(quantity, "drops")
        elif self.heeds and self._called:
            self.loop.water_test("free_chlorine", "drops")
        self._called = False
        truth = self.plant.truth()
        if day % 7 == 0 and truth.alkalinity_mg_l < KEEPS_ALKALINITY_MG_L and weekly_tests:
            self.adds("bicarbonate", BICARBONATE_G_PER_MG_L_M3 * self.plant.params.water.volume_m3 * 20.0)
        if day % 28 == 14 and weekly_tests:
            lacking = self._keeps_stabiliser_mg_l - self.loop.water_test("stabiliser", "turbidity")
            if lacking > STABILISER_SLACK_MG_L:
                self.adds("stabiliser", lacking * self.plant.params.water.volume_m3)
        if day % 7 == 1 and weekly_tests:
            self.loop.water_test("alkalinity", "drops")
        for feeder in self.loop.plan.site.feeders:
            percent = self.plant.signals().get(f"{feeder.id}_percent")
            if percent is not None and percent < REFILLS_UNDER_PERCENT:
                self._fills(feeder)

    def fills_up(self) -> None:
        """Fills every container, as before a journey."""
        for feeder in self.loop.plan.site.feeders:
            if feeder.container_ml > 0.0:
                self._fills(feeder)

    def _fills(self, feeder: Feeder) -> None:
        self.plant.add_by_hand(f"{feeder.id}_container_ml", feeder.container_ml)
        self.tally.refills[str(feeder.id)] += 1
        self.loop.ask("refill", (("feeder", str(feeder.id)), ("container_ml", feeder.container_ml)))

    def adds(self, product: str, grams: float) -> None:
        """Puts something in by hand and enters it."""
        self.tally.added_g[product] += round(grams)
        self.plant.add_by_hand(f"{product}_g", grams)
        self.loop.ask("added_by_hand", (("product", product), ("amount", round(grams)), ("as_said", True)))

    def _count(self, moment: Moment) -> None:
        tally, truth, decision = self.tally, moment.truth, moment.decision
        step_h = 1.0 / 60.0
        aimed = band(self.loop.plan.site, self.loop.plan.control, truth.cya_mg_l)
        free, ph = truth.free_chlorine_mg_l, truth.ph
        tally.hours += step_h
        tally.in_band_h += step_h * (aimed.low_mg_l <= free <= aimed.high_mg_l)
        tally.target_min, tally.target_max = min(tally.target_min, aimed.mg_l), max(tally.target_max, aimed.mg_l)
        tally.low_h += step_h * (free < 1.0)
        tally.over_limit_h += step_h * (free > upper_free_chlorine_limit_mg_l(truth.cya_mg_l))
        tally.ph_out_h += step_h * (not 7.2 <= ph <= 7.8)
        tally.covered_h += step_h * (decision.water.low95_mg_l <= free <= decision.water.high95_mg_l)
        tally.free_min, tally.free_max = min(tally.free_min, free), max(tally.free_max, free)
        tally.cya_min, tally.cya_max = min(tally.cya_min, truth.cya_mg_l), max(tally.cya_max, truth.cya_mg_l)
        tally.ph_min, tally.ph_max = min(tally.ph_min, ph), max(tally.ph_max, ph)
        tally.fed_without_flow_s = truth.fed_without_flow_s
        self._count_lost(moment, step_h)
        on = {str(c.feeder) for c in decision.commands if isinstance(c, FeedOn)}
        tally.starts.update(on - self._on)
        self._on = on
        for change in decision.alarms:
            if change.change == "raised":
                self._called = self._called or str(change.code) in ASKS_FOR_A_TEST
                (tally.alarms if change.priority >= 2 else tally.notices)[str(change.code)] += 1
        for feeder, verdicts in decision.objections.items():
            now = {str(v.guard): v for v in verdicts if isinstance(v, Denial)}
            new = set(now) - self._denied.get(str(feeder), set())
            tally.trips.update(new)
            self._denied[str(feeder)] = set(now)
        latched = {key.partition(":")[0] for key, memory in self.loop.state.working.memories.items() if memory.latched}
        latched |= {str(v.guard) for found in decision.objections.values() for v in found if isinstance(v, Denial) and v.latched}
        tally.latched.update(latched - self._latched)
        self._latched = latched

    def _count_lost(self, moment: Moment, step_h: float) -> None:
        """Hours of flow that guards take from chlorine; ordinary waits between feeds and after the pump's start are none."""
        if not moment.truth.flow:
            return
        self.tally.flow_h += step_h
        guards: set[str] = set()
        for feeder in self.loop.plan.site.feeding(Substance.CHLORINE):
            shortest_g = self.loop.plan.site.feeder(feeder).rate_g_s
            for verdict in moment.decision.objections.get(feeder, ()):
                cut = isinstance(verdict, Limit) and (
                    is_fallback(verdict) or str(verdict.guard) in CUTS or verdict.mass_g < shortest_g * LIFE_S_MIN
                )
                if (isinstance(verdict, Denial) or cut) and str(verdict.guard) not in ORDINARY:
                    guards.add(str(verdict.guard))
        self.tally.lost_h += step_h * bool(guards - {STOCK})
        self.tally.empty_h += step_h * (guards == {STOCK})
        for guard in guards:
            self.tally.held[guard] = self.tally.held.get(guard, 0.0) + step_h

    def fed(self, substance: Substance) -> float:
        """Mass fed so far [mg/L]."""
        site, ledger = self.loop.plan.site, self.loop.state.durable.ledger
        return ledger.total_g(substance) / site.pool.volume_m3


def random_season(seed: int, start: datetime, hypochlorite: bool = False) -> Season:
    """A random plant whose owner believes in 50 m3 whatever it really holds."""
    params = random_params(seed, hypochlorite)
    return Season(replace(params), start, seed, hypochlorite)
