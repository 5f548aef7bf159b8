"""A small pool with its own simple control, judged by all guards: what they must not trip, and what must bound a stuck probe.

It is not the simulated pool of the repository: no chemistry but first-order losses, one mixing lag and the size of
ordinary noise.
The pump runs by a timer, the cell time-proportionally, acid in pulses.
"""

import math
import random
from collections.abc import Iterator
from dataclasses import dataclass, field, replace

from dosectl.core.evidence import Evidence, FlowFacts, Standing
from dosectl.core.interlocks.guard import FRESH, Guard, Memory, memory_key
from dosectl.core.interlocks.registry import build
from dosectl.model.feeds import FeederId, Substance
from dosectl.model.ledger import FeederLedger
from dosectl.model.signals import SignalId
from dosectl.model.verdicts import Denial, Limit, Verdict
from dosectl.model.water_tests import Quantity, WaterTest
from tests.builders import ACID, CELL, CLOCK_S, a_reading, a_site, a_standing, a_test, an_evidence, an_instant, facts_of

DAY_S = 86400.0
VOLUME_M3 = 50.0
STEP_S = 60.0


@dataclass
class Weather:
    """Per day: how strong the sun is, and what a party takes in the evening [mg/L]."""

    sun: float = 1.0
    party_mg_l: float = 0.0


@dataclass
class HealthyPool:
    seed: int
    hours: tuple[float, float] = (9.0, 19.0)  # UTC hours of the pump's timer
    noise_mv: float = 2.0
    noise_ph: float = 0.02
    known_days: int = 14
    days: dict[int, Weather] = field(default_factory=dict)
    target_mg_l: float = 3.0
    stuck_mv: float | None = None  # the ORP shows this and its noise; control then asks for all the cell gives
    always_sun: float | None = None
    slope: float = 1.0  # of the electrode, as a share of a good one's: a worn one shows little of what happens
    chlorine_mg_l: float = 3.0
    ph: float = 7.5
    unmixed_ph: float = 0.0
    memories: dict[str, Memory] = field(default_factory=dict)
    on: FeederId | None = None

    def __post_init__(self) -> None:
        self.site = a_site()
        self.guards: tuple[Guard, ...] = build(self.site)
        self.keys = [(guard, memory_key(guard)) for guard in self.guards]
        self.random = random.Random(self.seed)
        self.clock_s = CLOCK_S
        self.flow_clock_s = 0.0
        self.flow_since_s: float | None = None
        self.started_s: float | None = None
        self.stopped_s: float | None = None
        self.books = {feeder.id: FeederLedger(feeder.id, substance=feeder.substance) for feeder in self.site.feeders}
        self.facts = {feeder.id: facts_of(feeder) for feeder in self.site.feeders}
        usual = ((Substance.CHLORINE, (2.0,) * self.known_days), (Substance.ACID, (2.0,) * self.known_days))
        self.standing: Standing = a_standing(self.site, daily_use_mg_l=usual)
        self.blank = an_evidence(self.site)
        self.acid_left_g = 0.0

    def run(self, days: int) -> Iterator[tuple[Evidence, dict[FeederId, list[Verdict]]]]:
        """Steps of a minute while the pump runs and of ten at night; the evidence of each and its objections."""
        until_s = self.clock_s + days * DAY_S
        while self.clock_s < until_s:
            hour = an_instant(self.clock_s).utc.hour + an_instant(self.clock_s).utc.minute / 60.0
            pump = self.hours[0] <= hour < self.hours[1]
            near = self.hours[0] - 0.5 <= hour < self.hours[1] + 0.5
            step_s = STEP_S if near else 600.0
            self._water(step_s, hour)
            self.clock_s += step_s
            evidence = self._evidence(step_s, pump)
            objections = self._judged(evidence)
            yield evidence, objections
            self._decide(objections)

    def _water(self, step_s: float, hour: float) -> None:
        weather = (
            Weather(self.always_sun)
            if self.always_sun is not None
            else self.days.get(int((self.clock_s - CLOCK_S) // DAY_S), Weather())
        )
        sun = max(0.0, math.sin(math.pi * (hour - 4.0) / 15.0)) if 4.0 < hour < 19.0 else 0.0
        loss = (0.10 + 1.1 * weather.sun * sun) / DAY_S
        self.chlorine_mg_l *= math.exp(-loss * step_s)
        if 15.0 <= hour < 18.0:
            self.chlorine_mg_l -= weather.party_mg_l * step_s / (3.0 * 3600.0)
        self.chlorine_mg_l = max(0.2, self.chlorine_mg_l)
        mixed = self.unmixed_ph * (1.0 - math.exp(-step_s / 1200.0))
        self.unmixed_ph -= mixed
        self.ph += mixed + 0.16 * (8.2 - self.ph) / 0.7 * step_s / DAY_S
        if self.on is not None:
            feeder = self.site.feeder(self.on)
            mass_g = feeder.rate_g_s * step_s
            if self.on == ACID:
                mass_g = min(mass_g, self.acid_left_g)
                self.acid_left_g -= mass_g
                self.unmixed_ph -= 0.08 * mass_g / VOLUME_M3
            else:
                self.chlorine_mg_l += mass_g / VOLUME_M3
            book = self.books[self.on]
            at_s = self.clock_s + step_s
            self.books[self.on] = replace(
                book, times_s=(*book.times_s, at_s), totals_g=(*book.totals_g, book.closed_g + mass_g)
            ).forgetting(at_s - 4 * DAY_S)

    def _evidence(self, step_s: float, pump: bool) -> Evidence:
        flowed = pump and self.flow_since_s is not None
        if pump and self.flow_since_s is None:
            self.flow_since_s = self.started_s = self.clock_s
        elif not pump and self.flow_since_s is not None:
            self.flow_since_s, self.stopped_s = None, self.clock_s
        self.flow_clock_s += step_s if flowed else 0.0
        for feeder in self.site.feeders:
            facts = self.facts[feeder.id]
            node = facts.node if facts.node is None else replace(facts.node, ms=facts.node.ms + int(step_s * 1000))
            runs = self.on == feeder.id  # as commanded in the step before, until this one
            self.facts[feeder.id] = replace(
                facts,
                node=node,
                asked_on=runs,
                running=runs and pump,
                feedback_on_since_s=(facts.feedback_on_since_s or self.clock_s - step_s) if runs and pump else None,
                ran_s=self.clock_s if runs else facts.ran_s,
                ran_flow_s=self.flow_clock_s if runs else facts.ran_flow_s,
            )
        noise = self.random.gauss
        living_mv = 700.0 + 33.0 * math.log10(self.chlorine_mg_l / 3.0) - 60.0 * (self.ph - 7.5)
        living_mv = 700.0 + self.slope * (living_mv - 700.0)
        orp_mv = (living_mv if self.stuck_mv is None else self.stuck_mv) + noise(0.0, self.noise_mv)
        temp_c = 26.0 + 1.5 * math.sin(2.0 * math.pi * self.clock_s / DAY_S)
        values: dict[str, float | bool] = {
            "orp": round(orp_mv, 1),
            "ph": round(self.ph + noise(0.0, self.noise_ph), 2),
            "water_temp": round(temp_c, 1),
            "flow": pump,
            "pump": pump,
            "cell_feedback": bool(self.facts[CELL].running),
            "acid_feedback": bool(self.facts[ACID].running),
        }
        flow = FlowFacts(pump, not pump, self.flow_since_s, self.flow_clock_s, self.started_s, self.stopped_s)
        return replace(
            self.blank,
            now=an_instant(self.clock_s),
            clock_s=self.clock_s,
            readings={SignalId(name): a_reading(name, value, at_s=self.clock_s) for name, value in values.items()},
            flow=flow,
            feeders=dict(self.facts),
            ledger=replace(self.blank.ledger, feeders=tuple(self.books.values())),
            standing=self.standing,
            tests=(self._weekly_alkalinity(),),
        )

    def _weekly_alkalinity(self) -> WaterTest:
        """The owner tests the alkalinity each week and keeps it at 80."""
        week = (self.clock_s - CLOCK_S) // (7 * DAY_S)
        return a_test(Quantity.ALKALINITY, 80.0, CLOCK_S + week * 7 * DAY_S)

    def _judged(self, evidence: Evidence) -> dict[FeederId, list[Verdict]]:
        objections: dict[FeederId, list[Verdict]] = {feeder.id: [] for feeder in self.site.feeders}
        for guard, key in self.keys:
            verdict, self.memories[key] = guard.judge(evidence, self.memories.get(key, FRESH))
            if isinstance(verdict, Denial | Limit):
                for feeder in guard.feeders:
                    objections[feeder].append(verdict)
        return objections

    def _decide(self, objections: dict[FeederId, list[Verdict]]) -> None:
        free = {feeder: allowed(found) for feeder, found in objections.items()}
        if self.acid_left_g <= 1e-6 and self.ph + self.unmixed_ph > 7.55 and self.random.random() < 0.02:
            self.acid_left_g = 0.4 * VOLUME_M3
        share = 0.45 + 1.2 * (self.target_mg_l - self.chlorine_mg_l) if self.stuck_mv is None else 1.0
        cell = (self.clock_s / 1200.0) % 1.0 < min(1.0, share)
        wanted = ACID if self.acid_left_g > 1e-6 and (free[ACID] or self.on == CELL) else (CELL if cell else None)
        before = self.on
        self.on = wanted if wanted is not None and free[wanted] else None
        for feeder in self.facts:
            was, runs = before == feeder, self.on == feeder
            if was != runs:
                facts = self.facts[feeder]
                began = self.clock_s if runs else None
                self.facts[feeder] = replace(facts, asked_on_since_s=began, asked_off_since_s=None if runs else self.clock_s)


def allowed(found: list[Verdict]) -> bool:
    """Whether a feed would be granted: no denial and some room."""
    return not any(isinstance(v, Denial) or (isinstance(v, Limit) and v.mass_g <= 0.5) for v in found)
