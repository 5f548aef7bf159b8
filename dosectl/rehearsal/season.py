"""Runs a pool for weeks and counts what a person would ask about: hours in band, trips, alarms, starts, mass fed.

The owner of these runs tests the water once a week and the stabiliser each four, refills containers when they run low and lifts
alkalinity and stabiliser by hand, entering what was added, as the reminders say; one who heeds calls also tests the chlorine on
the morning after a call that asks for it. Nothing else is done by hand.
"""

from collections.abc import Iterator
from dataclasses import replace
from datetime import datetime

from dosectl.core.site import Feeder
from dosectl.model.feeds import Substance
from dosectl.pool_model.params import PlantParams
from dosectl.pool_model.plant import PoolPlant
from dosectl.pool_model.scenarios import random_params
from dosectl.rehearsal.loop import ClosedLoop, Moment, demo_loaded
from dosectl.rehearsal.tally import Counting, Tally

BICARBONATE_G_PER_MG_L_M3 = 1.68  # NaHCO3, stoichiometry: 84.01 / 50.04
KEEPS_ALKALINITY_MG_L = 65.0
KEEPS_STABILISER_MG_L = 50.0
STABILISER_SLACK_MG_L = 8.0  # less than a test's own error is left alone
REFILLS_UNDER_PERCENT = 40.0  # a small container gives more than a tenth of itself on a hot day, and low is 20 %
ASKS_FOR_A_TEST = {"feed.daily_limit", "feed.learned_use", "water.chlorine_gone", "water.chlorine_low"}


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
        self._counting = Counting(loop.plan.site, loop.plan.control)
        self.tally = self._counting.tally
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
            self._counting.count(moment)
            asked = {str(change.code) for change in moment.decision.alarms if change.change == "raised"}
            self._called = self._called or bool(asked & ASKS_FOR_A_TEST)
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

    def fed(self, substance: Substance) -> float:
        """Mass fed so far [mg/L]."""
        site, ledger = self.loop.plan.site, self.loop.state.durable.ledger
        return ledger.total_g(substance) / site.pool.volume_m3


def random_season(seed: int, start: datetime, hypochlorite: bool = False) -> Season:
    """A random plant whose owner believes in 50 m3 whatever it really holds."""
    params = random_params(seed, hypochlorite)
    return Season(replace(params), start, seed, hypochlorite)
