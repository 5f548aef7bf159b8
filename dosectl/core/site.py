"""What is installed: the pool, its signals, its feeders. Frozen facts of the plan that every room of the step may know."""

from dataclasses import dataclass

from dosectl.model.feeds import FeederId, Substance
from dosectl.model.signals import NodeId, SignalId, SignalKind

SALT_WATER_G_L = 1.5  # from here on the water carries salt on purpose; common practice


@dataclass(frozen=True, slots=True)
class Pool:
    """The water and its place.

    stabiliser_mg_l, alkalinity_mg_l, salt_g_l, hardness_mg_l, borate_b_mg_l : as typed in; newer water tests win
    depth_m : mean depth; turnover_h : hours for the pump to move one volume
    asks_pump_hours : the hours of flow that the coming day needs are published, for a hub that may follow them
    without : codes of interlocks that read what is not fitted here, and that the owner has said to do without
    salt_water : at least 1.5 g/L of salt, whatever feeds the chlorine
    """

    pool_id: str
    name: str
    volume_m3: float
    latitude_deg: float
    longitude_deg: float
    time_zone: str
    stabiliser_mg_l: float
    alkalinity_mg_l: float
    hardness_mg_l: float
    salt_g_l: float
    borate_b_mg_l: float = 0.0
    depth_m: float = 1.5
    turnover_h: float = 5.0
    salt_water: bool = True
    covered: bool = False
    asks_pump_hours: bool = False
    without: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Signal:
    """One signal that the plan expects.

    threshold : for a meter used as a switch: on above this value, in the signal's unit (flow L/min, pump W, feedback W or A)
    age_s_max : older than this it is unknown [s]
    period_s : expected period of messages [s]; edges : the source publishes each change at once
    sigma : standard uncertainty of a good reading, in the signal's unit
    offset, slope : calibration, value = offset + slope * raw
    partner : a like probe that this one is checked against
    feeder : whose feedback, level, current or voltage this is
    """

    id: SignalId
    kind: SignalKind
    age_s_max: float
    period_s: float
    edges: bool = False
    threshold: float | None = None
    sigma: float = 0.0
    offset: float = 0.0
    slope: float = 1.0
    partner: SignalId | None = None
    feeder: FeederId | None = None


@dataclass(frozen=True, slots=True)
class Feeder:
    """One feeder.

    kind : `cell` (makes chlorine from the pool's salt), `pump` (metered chemical)
    rate_g_s : mass per second at full output, today's figure [g/s as Cl2, or as CaCO3 removed for acid]
    percent : the device takes a level; else a relay
    lockout_group : feeders of different groups never run together; one per substance
    pulse_s_min, pulse_s_max, rest_s_min : shortest and longest pulse, shortest rest [s]
    feedback : the load-measured feedback signal, None where there is none; metered : it is measured at the load
    container_ml, strength_text : what hangs on it, for advice and the level ledger (cells: 0, "")
    node : the node that carries out commands, None for a plain relay
    cell_cutout : a wired gas or flow cut-out of the cell is declared
    full_from_c : water from which a cell gives all of its output [deg C]; below it less, see `temperature_factor`
    """

    id: FeederId
    substance: Substance
    kind: str
    rate_g_s: float
    percent: bool
    lockout_group: str
    pulse_s_min: float
    pulse_s_max: float
    rest_s_min: float
    feedback: SignalId | None
    metered: bool
    level: SignalId | None
    container_ml: float
    ml_per_g: float
    strength_text: str
    node: NodeId | None
    cell_cutout: bool
    hourly_cap_g: float
    digest: str
    full_from_c: float = 0.0


@dataclass(frozen=True, slots=True)
class Site:
    """All that is installed.

    ident : this controller's name on the bus; digest : of every safety-relevant field of the plan
    renew_s : a wanted feed is renewed each so many seconds; expires_s : a command's life without renewal [s]
    simulated : the plan belongs to a demo or a simulation
    """

    ident: str
    pool: Pool
    signals: tuple[Signal, ...]
    feeders: tuple[Feeder, ...]
    renew_s: float
    expires_s: float
    digest: str
    simulated: bool = False

    def feeder(self, feeder: FeederId) -> Feeder:
        """The feeder of that id. Raises KeyError for an unknown one."""
        for item in self.feeders:
            if item.id == feeder:
                return item
        raise KeyError(feeder)

    def of_kind(self, kind: SignalKind) -> tuple[Signal, ...]:
        """All signals of a kind, in the plan's order."""
        return tuple(signal for signal in self.signals if signal.kind is kind)

    def first(self, kind: SignalKind) -> Signal | None:
        """The first signal of a kind (the one that regulates), None where none is fitted."""
        for signal in self.signals:
            if signal.kind is kind:
                return signal
        return None

    def feeding(self, substance: Substance) -> tuple[FeederId, ...]:
        """Ids of the feeders of a substance."""
        return tuple(feeder.id for feeder in self.feeders if feeder.substance is substance)
