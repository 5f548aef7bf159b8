"""Control alone over a water that stays as it is said to be."""

from collections.abc import Iterable
from dataclasses import replace

from dosectl.core.control import ControlParams, ControlState, ControlView, wishes
from dosectl.core.estimate import EstimateParams, WaterView, start, water
from dosectl.core.evidence import Standing
from dosectl.core.site import Feeder, Site
from dosectl.model.feeds import FeederId, Wish
from dosectl.model.ledger import Debit, FeederLedger, Ledger
from dosectl.model.reasons import Code, Reason
from dosectl.model.verdicts import Limit
from dosectl.model.water_tests import WaterTest
from tests.control.closed_loop import evidence
from tests.estimate.toy_pool import VOLUME_M3, ToyPool, site

PARAMS = ControlParams()
CELL, HYPO, ACID = FeederId("cell"), FeederId("hypo"), FeederId("acid")


def view_of(plant: Site, **changed: float) -> WaterView:
    """Sure knowledge of a water at its target unless said otherwise."""
    base = water(plant, start(plant, EstimateParams(), (), 0.0))
    known = replace(
        base, free_chlorine_mg_l=2.5, sigma_mg_l=0.2, low95_mg_l=2.1, high95_mg_l=2.9, ph=7.5, ph_sigma=0.05, cya_mg_l=50.0,
        cya_sigma=0.0, alkalinity_mg_l=90.0, demand_mg_l_day=1.3, sun_loss_mg_l_day=1.2,
    )  # fmt: skip
    shown = replace(known, **changed)
    if "free_chlorine_mg_l" in changed and "high95_mg_l" not in changed:
        free = changed["free_chlorine_mg_l"]
        shown = replace(shown, low95_mg_l=0.85 * free, high95_mg_l=1.15 * free, sigma_mg_l=max(0.07 * free, 0.01))
    return shown


class Run:
    """Control alone over a water that stays as it is said to be; wishes are fed at full rate unless `feeding` is off."""

    def __init__(
        self,
        *feeders: Feeder,
        step_s: float = 60.0,
        feeding: bool = True,
        cover: bool | None = None,
        params: ControlParams = PARAMS,
        **water_facts: float,
    ) -> None:
        self.plant, self.cover, self.params, self.clock_trusted = site(*feeders), cover, params, True
        self.pool = ToyPool(0)
        self.pool.now_s = 10 * 3600.0
        self.view_in = view_of(self.plant, **water_facts)
        self.state = ControlState()
        self.ledger = Ledger(tuple(FeederLedger(f.id, substance=f.substance) for f in self.plant.feeders))
        self.step_s, self.feeding = step_s, feeding
        self.orp: float | None = 700.0
        self.ph: float | None = 7.5
        self.flow_since_s: float | None = 0.0
        self.limits: tuple = ()  # type: ignore[type-arg]
        self.lasting: frozenset[FeederId] = frozenset()
        self.standing = Standing()
        self.tests: tuple[WaterTest, ...] = ()
        self.view: ControlView | None = None
        self.wished: tuple[Wish, ...] = ()
        self.runs_s: dict[FeederId, float] = {}
        self.running: tuple[FeederId, ...] = ()
        self.history: list[tuple[float, tuple[Wish, ...]]] = []

    def step(self, **water_facts: float) -> tuple[Wish, ...]:
        if water_facts:
            self.view_in = view_of(self.plant, **water_facts)
        granted = tuple(wish.feeder for wish in self.wished) if self.feeding else ()
        for wish in self.wished if self.feeding else ():
            rate = self.plant.feeder(wish.feeder).rate_g_s * wish.level
            grams = min(wish.mass_g, rate * self.step_s)
            book = self.ledger.of(wish.feeder)
            debit = Debit(self.ledger.next_no, wish.feeder, self.pool.now_s, self.pool.now_s, grams)
            self.ledger = self.ledger.with_feeder(book.with_open(debit).closed(self.pool.now_s + self.step_s, grams))
        self.pool.now_s += self.step_s
        seen = evidence(
            self.plant, self.pool, flow_since_s=self.flow_since_s, orp=self.orp, ph=self.ph, ledger=self.ledger,
            standing=self.standing, cover=self.cover, clock_trusted=self.clock_trusted, tests=self.tests,
        )  # fmt: skip
        for feeder in granted:
            self.runs_s[feeder] = self.step_s + (self.runs_s[feeder] if feeder in self.running else 0.0)
        self.running = granted
        facts = {f: replace(shown, run_flow_s=self.runs_s.get(f, 0.0)) for f, shown in seen.feeders.items()}
        seen = replace(seen, feeders=facts)
        self.wished, self.state, self.view = wishes(
            self.plant, self.params, self.state, self.view_in, seen, granted, self.limits, self.lasting
        )
        self.history.append((self.pool.now_s, self.wished))
        return self.wished

    def run(self, hours: float) -> "Run":
        for _ in range(round(hours * 3600.0 / self.step_s)):
            self.step()
        return self

    def fed_mg_l(self, feeder: FeederId) -> float:
        return self.ledger.of(feeder).closed_g / VOLUME_M3

    def why(self, feeder: FeederId) -> str:
        assert self.view is not None
        return next(str(reason.code) for item, reason in self.view.feeders if item == feeder)

    def stretches(self, feeder: FeederId) -> list[tuple[float, float]]:
        """Unbroken stretches of wishing: (seconds on, seconds off before it)."""
        found: list[tuple[float, float]] = []
        on_s = off_s = 0.0
        for _, wished in self.history:
            if any(wish.feeder == feeder for wish in wished):
                on_s += self.step_s
            else:
                if on_s > 0.0:
                    found.append((on_s, off_s))
                    on_s, off_s = 0.0, 0.0
                off_s += self.step_s
        return found


def codes(items: Iterable[Wish]) -> set[FeederId]:
    return {wish.feeder for wish in items}


def limited_to(run: Run, mg_l: float) -> tuple[tuple[FeederId, tuple[Limit, ...]], ...]:
    """What a guard leaves that never lets more than this be fed at once."""
    why = Reason(Code("x"), (), evidence(run.plant, run.pool).now)
    return ((CELL, (Limit(Code("mass.window"), mg_l * VOLUME_M3, why),)),)
