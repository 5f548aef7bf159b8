"""A random pool that two weeks of honest tests have taught dosectl, for tests that then spoil something."""

from copy import deepcopy
from dataclasses import dataclass, field, replace
from functools import lru_cache

from dosectl.pool_model.plant import PoolPlant
from dosectl.pool_model.scenarios import QUINCE_HOUSE_START, random_params
from dosectl.rehearsal.loop import ClosedLoop, demo_loaded

STEP_S = 120.0
Hours = tuple[tuple[float, float], ...] | None


@dataclass
class Pool:
    """A random pool with a hypochlorite pump, a fortnight of honest weekly tests behind it. hours : the pump's, if not drawn"""

    seed: int
    hours: Hours = None
    highest_mg_l: float = 0.0
    lowest_mg_l: float = 99.0
    alarms: set[str] = field(default_factory=set)

    @classmethod
    def after_a_fortnight(cls, seed: int, hours: Hours = None) -> "Pool":
        """One of its own for whoever asks; the fortnight is played once for each pool."""
        return deepcopy(_after_a_fortnight(seed, hours))

    def __post_init__(self) -> None:
        params = random_params(self.seed, True)
        if self.hours is not None:
            params = replace(params, circulation=replace(params.circulation, hours=self.hours))
        self.plant = PoolPlant(params, QUINCE_HOUSE_START, self.seed)
        self.loop = ClosedLoop.of(demo_loaded(True), self.plant, step_s=STEP_S)
        for _ in range(2):
            self.days(0.25)
            for quantity in ("free_chlorine", "ph", "alkalinity"):
                self.loop.water_test(quantity, "drops")
            self.days(6.75)

    def days(self, days: float) -> None:
        for feeder in self.plant.feeders:
            self.plant.add_by_hand(f"{feeder}_container_ml", 20_000.0)
        for feeder in self.loop.plan.site.feeders:
            if feeder.container_ml > 0.0:
                self.loop.ask("refill", (("feeder", str(feeder.id)), ("container_ml", feeder.container_ml)))
        for moment in self.loop.run(24.0 * days):
            self.highest_mg_l = max(self.highest_mg_l, moment.truth.free_chlorine_mg_l)
            self.lowest_mg_l = min(self.lowest_mg_l, moment.truth.free_chlorine_mg_l)
            self.alarms |= {str(change.code) for change in moment.decision.alarms if change.change == "raised"}

    def hours_below(self, limit_mg_l: float, days: int) -> float:
        """Hours of the next days under this free chlorine, the containers full: only interlocks starve it then."""
        low = count = 0
        for _ in range(days):
            self.days(0.0)
            for moment in self.loop.run(24.0):
                count += 1
                low += moment.truth.free_chlorine_mg_l < limit_mg_l
        return 24.0 * days * low / count

    def entered(self, value: float, method: str = "drops") -> None:
        facts = (("quantity", "free_chlorine"), ("value", value), ("method", method), ("as_said", True))
        self.loop.ask("water_test", facts)

    def limited_by(self) -> set[str]:
        return {str(v.guard) for found in self.loop.state.working.objections.values() for v in found}


@lru_cache(maxsize=8)
def _after_a_fortnight(seed: int, hours: Hours) -> Pool:
    return Pool(seed, hours)
