"""What control remembers between steps, and what it shows."""

from dataclasses import dataclass, field, replace

from dosectl.core.control.habit import FlowHabit
from dosectl.core.control.reasons import FALLBACK_UNSURE, FeederReasons
from dosectl.model.feeds import FeederId, Origin
from dosectl.model.reasons import Reason


@dataclass(frozen=True, slots=True)
class Pulse:
    """A feed under way: its wish is repeated until the ledger shows its mass.

    mass_g : of the whole pulse; before_g : what the feeder's ledger had fed when it began; started_s : plant clock
    """

    feeder: FeederId
    origin: Origin
    level: float
    mass_g: float
    before_g: float
    started_s: float
    why: Reason


@dataclass(frozen=True, slots=True)
class ControlView:
    """What control aims for and why each feeder is wanted or not.

    aim_mg_l : the target, raised towards the end of the flow window by what the pause will take
    planned_today_mg_l : what it would feed until the end of the present window of flow
    demand_mg_l_day : expected loss of the coming day, demand and clear-sky sun
    flow_wanted_h : hours of flow that the coming day needs, so that the feeders carry that loss and the water turns over
    """

    target_mg_l: float
    band_low_mg_l: float
    band_high_mg_l: float
    aim_mg_l: float
    target_why: Reason
    feeders: FeederReasons
    demand_mg_l_day: float
    planned_today_mg_l: float
    flow_wanted_h: float
    fallback: bool
    fallback_why: Reason | None

    @property
    def unsure(self) -> bool:
        """On fall-back because hardly anything is known of the chlorine, though there is a reading."""
        return self.fallback_why is not None and self.fallback_why.code == FALLBACK_UNSURE.code


@dataclass(frozen=True, slots=True)
class ControlState:
    """Working but for `habit`, which is durable: build a new one with it after a restart.

    due_s, updated_s : plant clock of the next and the last regulation, None before the first
    integral_mg_l_h : the trim's integral
    owed_s : seconds of full output each chlorine feeder owes
    orp_lost_s, ph_lost_s : plant clock since which the reading was not usable although water flowed
    fallback_s, fallback_why : since when and why chlorine is on fall-back
    slot_s : plant clock at the last opening of acid's turn; slot_open : it stands open
    slot_again : the flow cut the last turn, which comes again
    light, light_s : clear-sky light of the 24 hours from `light_s` on
    """

    habit: FlowHabit = field(default_factory=FlowHabit)
    due_s: float | None = None
    updated_s: float | None = None
    flow_proven: bool = False
    integral_mg_l_h: float = 0.0
    pulses: tuple[Pulse, ...] = ()
    owed_s: tuple[tuple[FeederId, float], ...] = ()
    orp_lost_s: float | None = None
    ph_lost_s: float | None = None
    fallback_s: float | None = None
    fallback_why: Reason | None = None
    slot_s: float | None = None
    slot_open: bool = False
    slot_again: bool = False
    light: tuple[float, ...] = ()
    light_s: float = 0.0
    view: ControlView | None = None

    def restarted(self) -> "ControlState":
        """As it is after a restart: only what was learnt."""
        return ControlState(habit=self.habit)

    def pulse_of(self, feeder: FeederId) -> Pulse | None:
        """The feeder's pulse under way, None where there is none."""
        for pulse in self.pulses:
            if pulse.feeder == feeder:
                return pulse
        return None

    def without_pulse(self, feeder: FeederId) -> "ControlState":
        """With the feeder's pulse withdrawn."""
        if self.pulse_of(feeder) is None:
            return self
        return replace(self, pulses=tuple(p for p in self.pulses if p.feeder != feeder))

    def with_pulse(self, pulse: Pulse) -> "ControlState":
        """With a pulse begun or changed."""
        return replace(self, pulses=(*(p for p in self.pulses if p.feeder != pulse.feeder), pulse))

    def owed_by(self, feeder: FeederId) -> float:
        """Seconds of full output that the feeder owes."""
        for item, owed in self.owed_s:
            if item == feeder:
                return owed
        return 0.0
