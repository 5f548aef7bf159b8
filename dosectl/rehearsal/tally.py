"""What a person would ask of days that a controller held: hours in band, trips, alarms, starts, what guards took."""

from collections import Counter
from dataclasses import dataclass, field

from dosectl.chemistry.chlorine import upper_free_chlorine_limit_mg_l
from dosectl.core.control.params import ControlParams
from dosectl.core.control.target import band
from dosectl.core.interlocks.arbiter import LIFE_S_MIN
from dosectl.core.interlocks.fallback import is_fallback
from dosectl.core.site import Site
from dosectl.model.feeds import FeedOn, Substance
from dosectl.model.verdicts import Denial, Limit
from dosectl.pool_model.protocol import Truth
from dosectl.rehearsal.loop import Moment

STEP_H = 1.0 / 60.0
ORDINARY = {"flow.proven", "flow.settle", "mixing.wait", "lockout.spacing", "mass.single", "start.hold"}
CUTS = {"mass.learned", "chlorine.response", "test.contradicted"}
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


class Counting:
    """Counts a run's moments of a minute each into its `tally`."""

    def __init__(self, site: Site, control: ControlParams) -> None:
        """site, control : of the settings that the run is held by"""
        self.tally = Tally()
        self._site, self._control = site, control
        self._on: set[str] = set()
        self._denied: dict[str, set[str]] = {}
        self._latched: set[str] = set()

    def count(self, moment: Moment) -> None:
        """One more minute."""
        tally, decision = self.tally, moment.decision
        self.count_water(moment.truth)
        free = moment.truth.free_chlorine_mg_l
        tally.covered_h += STEP_H * (decision.water.low95_mg_l <= free <= decision.water.high95_mg_l)
        self._count_lost(moment)
        on = {str(c.feeder) for c in decision.commands if isinstance(c, FeedOn)}
        tally.starts.update(on - self._on)
        self._on = on
        for change in decision.alarms:
            if change.change == "raised":
                (tally.alarms if change.priority >= 2 else tally.notices)[str(change.code)] += 1
        for feeder, verdicts in decision.objections.items():
            now = {str(v.guard): v for v in verdicts if isinstance(v, Denial)}
            new = set(now) - self._denied.get(str(feeder), set())
            tally.trips.update(new)
            self._denied[str(feeder)] = set(now)
        latched = {key.partition(":")[0] for key, memory in moment.state.working.memories.items() if memory.latched}
        latched |= {str(v.guard) for found in decision.objections.values() for v in found if isinstance(v, Denial) and v.latched}
        tally.latched.update(latched - self._latched)
        self._latched = latched

    def count_water(self, truth: Truth) -> None:
        """One more minute of which only the water is known."""
        tally = self.tally
        aimed = band(self._site, self._control, truth.cya_mg_l)
        free, ph = truth.free_chlorine_mg_l, truth.ph
        tally.hours += STEP_H
        tally.in_band_h += STEP_H * (aimed.low_mg_l <= free <= aimed.high_mg_l)
        tally.target_min, tally.target_max = min(tally.target_min, aimed.mg_l), max(tally.target_max, aimed.mg_l)
        tally.low_h += STEP_H * (free < 1.0)
        tally.over_limit_h += STEP_H * (free > upper_free_chlorine_limit_mg_l(truth.cya_mg_l))
        tally.ph_out_h += STEP_H * (not 7.2 <= ph <= 7.8)
        tally.free_min, tally.free_max = min(tally.free_min, free), max(tally.free_max, free)
        tally.cya_min, tally.cya_max = min(tally.cya_min, truth.cya_mg_l), max(tally.cya_max, truth.cya_mg_l)
        tally.ph_min, tally.ph_max = min(tally.ph_min, ph), max(tally.ph_max, ph)
        tally.fed_without_flow_s = truth.fed_without_flow_s

    def _count_lost(self, moment: Moment) -> None:
        """Hours of flow that guards take from chlorine; ordinary waits between feeds and after the pump's start are none."""
        if not moment.truth.flow:
            return
        self.tally.flow_h += STEP_H
        guards: set[str] = set()
        for feeder in self._site.feeding(Substance.CHLORINE):
            shortest_g = self._site.feeder(feeder).rate_g_s
            for verdict in moment.decision.objections.get(feeder, ()):
                cut = isinstance(verdict, Limit) and (
                    is_fallback(verdict) or str(verdict.guard) in CUTS or verdict.mass_g < shortest_g * LIFE_S_MIN
                )
                if (isinstance(verdict, Denial) or cut) and str(verdict.guard) not in ORDINARY:
                    guards.add(str(verdict.guard))
        self.tally.lost_h += STEP_H * bool(guards - {STOCK})
        self.tally.empty_h += STEP_H * (guards == {STOCK})
        for guard in guards:
            self.tally.held[guard] = self.tally.held.get(guard, 0.0) + STEP_H
