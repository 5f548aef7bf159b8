"""Estimate, control and a toy pool joined, with the plainest stand-in for the arbiter: what is wished is fed, by the ledger."""

from dataclasses import dataclass, field, replace

from dosectl.core.control import ControlParams, ControlState, ControlView, FlowHabit, wishes
from dosectl.core.control.sharing import Limits
from dosectl.core.estimate import Estimate, EstimateInputs, EstimateParams, WaterView, start, update, water
from dosectl.core.evidence import Evidence, FlowFacts, Standing, StartFacts
from dosectl.core.site import Site
from dosectl.model.feeds import FeederId, Substance, Wish
from dosectl.model.instant import Instant
from dosectl.model.ledger import Debit, FeederLedger, Ledger
from dosectl.model.requests import RequestId
from dosectl.model.signals import Health, Reading, SignalId, Status
from dosectl.model.water_tests import Quantity, WaterTest
from tests.builders import facts_of
from tests.estimate.toy_pool import ToyPool, site

STEP_S = 60.0


def reading(name: str, value: float | None, at_s: float, sigma: float = 0.03) -> Reading:
    status = Status.GOOD if value is not None else Status.UNKNOWN
    return Reading(SignalId(name), status, value, value, sigma, at_s)


def evidence(
    plant: Site,
    pool: ToyPool,
    *,
    flow_since_s: float | None = 0.0,
    orp: float | None = 700.0,
    ph: float | None = 7.5,
    ledger: Ledger | None = None,
    standing: Standing | None = None,
    cover: bool | None = None,
    clock_trusted: bool = True,
    tests: tuple[WaterTest, ...] = (),
) -> Evidence:
    now = Instant(pool.now_s, pool.utc, "toy")
    readings = {r.signal: r for r in (reading("orp", orp, pool.now_s), reading("ph", ph, pool.now_s))}
    readings[SignalId("cover")] = Reading(SignalId("cover"), Status.GOOD, cover, cover, None, pool.now_s)
    return Evidence(
        site=plant, now=now, clock_s=pool.now_s, clock_jump_s=0.0, readings=readings, samples=(), drops=(),
        flow=FlowFacts(flow_since_s is not None, False, flow_since_s, pool.now_s),
        feeders={f.id: facts_of(f, pool.now_s) for f in plant.feeders},
        ledger=ledger or Ledger(tuple(FeederLedger(f.id, substance=f.substance) for f in plant.feeders)),
        tests=tests, standing=standing or Standing(),
        start=StartFacts(0.0, True, (0.0,), {}, 0.0), health=Health(True, None, True, 1.0, clock_trusted), foreign=(),
    )  # fmt: skip


def hand_test(pool: ToyPool, quantity: Quantity, value: float, sigma: float, no: str | None = None) -> WaterTest:
    name = RequestId(no or f"{quantity}-{pool.now_s}")
    return WaterTest(name, quantity, value, sigma, "by hand", pool.utc, pool.now_s, pool.now_s, "me")


@dataclass
class Loop:
    """`step` moves a minute. `orp_ok`, `ph_ok` take a probe away; `flow_hours` is the pump's timer in UTC."""

    plant: Site = field(default_factory=site)
    pool: ToyPool = field(default_factory=ToyPool)
    params: ControlParams = field(default_factory=ControlParams)
    flow_hours: tuple[int, int] = (8, 20)
    orp_ok: bool = True
    ph_ok: bool = True
    ph_rise_day: float = 0.06
    tests: tuple[WaterTest, ...] = ()
    limits: Limits = ()
    standing: Standing = field(default_factory=Standing)

    def __post_init__(self) -> None:
        self.state = ControlState(habit=FlowHabit.assumed(9.0))  # as the controller begins with a new pool
        self.estimate: Estimate = start(self.plant, EstimateParams(), self.tests, 0.0)
        self.ledger = Ledger(tuple(FeederLedger(f.id, substance=f.substance) for f in self.plant.feeders))
        self.flow_since_s: float | None = None
        self.granted: tuple[FeederId, ...] = ()
        self.starts: dict[str, int] = {}
        self.fed_mg_l = {Substance.CHLORINE: 0.0, Substance.ACID: 0.0}
        self.view: ControlView | None = None
        self.water: WaterView = water(self.plant, self.estimate)
        self.wishes: tuple[Wish, ...] = ()

    def step(self, new_tests: tuple[WaterTest, ...] = (), party_mg_l: float = 0.0) -> None:
        pool = self.pool
        fed = self._feed()
        pool.advance(STEP_S, fed[Substance.CHLORINE], party_mg_l)
        volume = self.plant.pool.volume_m3
        pool.ph += self.ph_rise_day * STEP_S / 86400.0 - 0.09 * fed[Substance.ACID] / volume
        flowing = self.flow_hours[0] <= pool.utc.hour < self.flow_hours[1]
        self.flow_since_s = (pool.now_s if self.flow_since_s is None else self.flow_since_s) if flowing else None
        orp = pool.reading_mv() if self.orp_ok else None
        ph = pool.ph + pool.rng.gauss(0.0, 0.02) if self.ph_ok else None
        proven_s = 0.0 if self.flow_since_s is None else pool.now_s - self.flow_since_s
        given = tuple((substance, grams / volume) for substance, grams in fed.items())
        inputs = EstimateInputs(pool.now_s, pool.utc, STEP_S, orp, ph, 0.05, pool.temp_c, proven_s, given, new_tests)
        self.estimate = update(self.plant, EstimateParams(), self.estimate, inputs)
        self.water = water(self.plant, self.estimate)
        seen = evidence(
            self.plant, pool, flow_since_s=self.flow_since_s, orp=orp, ph=ph, ledger=self.ledger, standing=self.standing
        )
        self.wishes, self.state, self.view = wishes(
            self.plant, self.params, self.state, self.water, seen, self.granted, self.limits
        )

    def _feed(self) -> dict[Substance, float]:
        """Feeds what was wished at the last step, in grams, and books it."""
        fed = {Substance.CHLORINE: 0.0, Substance.ACID: 0.0}
        before, self.granted = self.granted, tuple(wish.feeder for wish in self.wishes)
        for wish in self.wishes:
            feeder = self.plant.feeder(wish.feeder)
            grams = min(wish.mass_g, feeder.rate_g_s * wish.level * STEP_S)
            book = self.ledger.of(wish.feeder).with_open(
                Debit(self.ledger.next_no, wish.feeder, self.pool.now_s, self.pool.now_s, grams)
            )
            self.ledger = self.ledger.with_feeder(book.closed(self.pool.now_s, grams))
            self.ledger = replace(self.ledger, next_no=self.ledger.next_no + 1)
            fed[feeder.substance] += grams
            self.fed_mg_l[feeder.substance] += grams / self.plant.pool.volume_m3
            if wish.feeder not in before:
                self.starts[wish.feeder] = self.starts.get(wish.feeder, 0) + 1
        return fed

    def why(self, feeder: str) -> str:
        """The code of the reason why a feeder is wanted or not."""
        assert self.view is not None
        return next(str(reason.code) for item, reason in self.view.feeders if item == feeder)
