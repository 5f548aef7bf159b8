"""What guards may see: raw evidence of this step, one frozen record shared by all.

Guards cannot see each other, the estimate, or who asked for a feed (but for the dispense flag that the commissioning gate needs).
"""

from collections.abc import Mapping
from dataclasses import dataclass

from dosectl.core.site import Site
from dosectl.model.feeds import FeederId, Substance
from dosectl.model.instant import Instant
from dosectl.model.ledger import Ledger
from dosectl.model.reasons import Code, Reason
from dosectl.model.signals import (
    Drop,
    ForeignCommand,
    Health,
    NodeReport,
    Reading,
    Sample,
    SignalId,
    SignalKind,
    Status,
)
from dosectl.model.water_tests import Beside, Quantity, Settled, WaterTest

REPEATS = Code("probe.flat")
"""The reason of a reading that has repeated itself exactly for a day."""
SEASON_CLOSED = Code("stop.season")
"""The reason of a stop that closes the season: the pool rests, and few alarms are of any use."""


@dataclass(frozen=True, slots=True)
class FlowFacts:
    """Flow as all flow evidence together shows it.

    proven : every flow principle is good and true at this moment, and none was false at any edge since the last step
    broken : some flow evidence is false or was so since the last step (not merely unknown)
    since_s : plant clock since which `proven` holds without a gap, None while not proven
    clock_s : seconds of proven flow ever, durable: the scale for mixing, spacing and flow-time limits
    pump_started_s, pump_stopped_s : plant clock of the last edge of the pump signal
    """

    proven: bool
    broken: bool
    since_s: float | None
    clock_s: float
    pump_started_s: float | None = None
    pump_stopped_s: float | None = None


@dataclass(frozen=True, slots=True)
class FeederFacts:
    """What was asked of a feeder and what it shows.

    asked_on : the last command sent was ON and its expiry has not passed
    asked_on_since_s, asked_off_since_s : plant clock since which the present asking holds
    running : feedback says it runs; None where unknown or not fitted
    ran_s : plant clock at the last moment it may have run (feedback on, or an ON whose life had not ended)
    ran_flow_s : flow clock at that moment
    run_flow_s : flow time of the run that ended then or goes on; 0 where its beginning is not known, as after a restart
    feedback_on_since_s : plant clock since which the feedback shows it running, None while it does not
    life_ends_s : plant clock at which the last ON ends by itself, even where no OFF arrives; None: none was sent in this run
    node : the node's last report, None for plain relays or before the first
    node_age_s : its age
    command_no : the highest number that we gave a command to it, as far as the record knows
    node_no : the number of the last command of ours that its node obeyed, by its last report; None where it says nothing of ours
    """

    feeder: FeederId
    asked_on: bool
    asked_on_since_s: float | None
    asked_off_since_s: float | None
    running: bool | None
    ran_s: float | None
    ran_flow_s: float | None
    feedback_on_since_s: float | None
    node: NodeReport | None
    node_age_s: float | None
    life_ends_s: float | None = None
    command_no: int = 0
    node_no: int | None = None
    run_flow_s: float = 0.0


@dataclass(frozen=True, slots=True)
class Proof:
    """A proof record: this feeder, in this installation, was shown to be safe to use.

    digest : the feeder's safety-relevant fields it was proven with; node : the node id it is bound to, "" for a plain relay
    attested : from typed answers, not from a guided walk; simulated : valid for simulated nodes only
    """

    feeder: FeederId
    digest: str
    node: str
    attested: bool
    simulated: bool
    at_utc: str
    by: str


@dataclass(frozen=True, slots=True)
class Poured:
    """What somebody put into the pool by hand, as it was entered: nobody has measured it.

    at_s : when, as it was said; entered_s : when it was entered [plant clock]
    amount, unit : of the product; the rest is how the mixed water changes [mg/L; inorganic carbon mmol/L], signed
    alkalinity_mg_l : net, once added chlorine has been used
    """

    at_s: float
    entered_s: float
    product: str
    amount: float
    unit: str
    free_chlorine_mg_l: float
    alkalinity_mg_l: float
    carbon_mmol_l: float = 0.0
    stabiliser_mg_l: float = 0.0
    borate_b_mg_l: float = 0.0


@dataclass(frozen=True, slots=True)
class Standing:
    """What people have set and the past has left, all durable.

    stop : manual stop of all feeding, or None; service : service lockout, or None
    proofs : proof records; confirmed : (feeder, digest) pairs confirmed on the before/after sheet
    refills : (feeder, plant clock, mL in the container after it)
    daily_use_mg_l : (substance, accepted days' use in mg/L, oldest first, at most 14)
    fallback_since_s : plant clock since when chlorine has been on fall-back, None when it is not
    accepted_days : days of accepted operation since the first proof
    calibrated : (probe, plant clock when it was last calibrated or checked in its standard)
    replaced : (feeder or probe, plant clock when its wearing part was last replaced, all that the feeder had fed by then [g])
    added_s : plant clock when something was last put in by hand, as it was entered; None: never
    poured : what was put in by hand of late, in the order of the entries
    aged : (feeder, half-lives that the product in its container has lain, plant clock until which they are counted)
    """

    stop: Reason | None = None
    service: Reason | None = None
    proofs: tuple[Proof, ...] = ()
    confirmed: tuple[tuple[FeederId, str], ...] = ()
    refills: tuple[tuple[FeederId, float, float], ...] = ()
    daily_use_mg_l: tuple[tuple[Substance, tuple[float, ...]], ...] = ()
    fallback_since_s: float | None = None
    presence_s: float | None = None
    calibrated: tuple[tuple[SignalId, float], ...] = ()
    replaced: tuple[tuple[str, float, float], ...] = ()
    added_s: float | None = None
    poured: tuple[Poured, ...] = ()
    aged: tuple[tuple[FeederId, float, float], ...] = ()

    def replaced_s(self, part: str) -> float | None:
        """Plant clock [s] when a feeder's or probe's wearing part was last replaced; None: not known to have been."""
        return max((at_s for name, at_s, _ in self.replaced if name == part), default=None)


@dataclass(frozen=True, slots=True)
class StartFacts:
    """How this run began: for the start-up hold.

    started_s : plant clock at the start; clean : the run before ended in order
    starts_s : plant clock of the starts of the last 6 h, this one included
    fresh : usable samples of each signal since the start
    flow_s : the count of seconds of proven flow at the start
    """

    started_s: float
    clean: bool
    starts_s: tuple[float, ...]
    fresh: Mapping[SignalId, int]
    flow_s: float


@dataclass(frozen=True, slots=True)
class Evidence:
    """All raw evidence of one step. `clock_s` is the plant clock now [s]; every `_s` time compares with it."""

    site: Site
    now: Instant
    clock_s: float
    clock_jump_s: float  # UTC minus monotonic since the last step [s]
    readings: Mapping[SignalId, Reading]
    samples: tuple[Sample, ...]  # since the last step, in order, every edge kept
    drops: tuple[Drop, ...]
    flow: FlowFacts
    feeders: Mapping[FeederId, FeederFacts]
    ledger: Ledger
    tests: tuple[WaterTest, ...]  # durable, withdrawn ones left out, oldest first
    standing: Standing
    start: StartFacts
    health: Health
    foreign: tuple[ForeignCommand, ...]
    dispense: FeederId | None = None  # a person at the plant asked this feeder to dispense
    beside: tuple[Beside, ...] = ()  # durable: what the probes showed when a test of free chlorine was taken
    settled: Settled | None = None  # durable: the newest means of half an hour of settled flow
    mute: frozenset[SignalId] = frozenset()  # signals that a standing trip found without an answer; guards are not told

    def reading(self, kind: SignalKind) -> Reading | None:
        """Reading of the first signal of a kind, None where none is fitted."""
        signal = self.site.first(kind)
        return None if signal is None else self.readings.get(signal.id)

    def number(self, kind: SignalKind, worst: Status = Status.OUT_OF_SPEC) -> float | None:
        """Value of the first signal of a kind where its status allows; else None."""
        reading = self.reading(kind)
        return None if reading is None else reading.number(worst)

    def followed(self, kind: SignalKind) -> float | None:
        """Value that estimate and control may go by: good, or wearing out but good. A redox potential moves with every feed and
        every night: one that repeats itself exactly for a day is no measurement, nor is one that answers no feed."""
        reading = self.reading(kind)
        if reading is None or (kind is SignalKind.ORP and reading.why is not None and reading.why.code == REPEATS):
            return None
        if self.mute and (signal := self.site.first(kind)) is not None and signal.id in self.mute:
            return None
        return reading.number(Status.MAINTENANCE)

    def newest_test(self, quantity: Quantity) -> WaterTest | None:
        """The water test of a quantity that was taken last, None where there is none."""
        newest: WaterTest | None = None
        for test in self.tests:
            if test.quantity is quantity and (newest is None or test.taken_s >= newest.taken_s):
                newest = test
        return newest

    def stabiliser_mg_l(self) -> float:
        """By the newest test by hand, by the settings where there is none; a slip counts as 1000. [mg/L CYA]"""
        newest = self.newest_test(Quantity.STABILISER)
        return self.site.pool.stabiliser_mg_l if newest is None else min(1000.0, newest.value)

    def silent_by_s(self, feeder: FeederId) -> float | None:
        """Plant clock [s] by which a feeder that is asked off must have stopped; None while it is asked on, or never was asked.

        An OFF may get lost: a command's own end is awaited, and after a start that of what the run before may have sent.
        """
        facts = self.feeders[feeder]
        if facts.asked_on or facts.asked_off_since_s is None:
            return None
        return max(facts.asked_off_since_s, facts.life_ends_s or 0.0, self.start.started_s + self.site.expires_s)

    def fed_mg_l(self, substance: Substance, window_s: float) -> float:
        """What all feeders of a substance may have fed in the last `window_s` seconds [mg/L as Cl2, or as CaCO3]."""
        grams = self.ledger.window_g(substance, self.clock_s, window_s)
        return grams / self.site.pool.volume_m3
