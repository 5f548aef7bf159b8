"""What faults can do to the plant, as plain switches with harmless defaults, and how a fault is declared."""

from collections.abc import Callable
from dataclasses import dataclass


@dataclass(slots=True)
class Upset:
    """The sum of all faults that stand. Rebuilt from the defaults on each change, so that ending a fault undoes it."""

    flow_blocked: bool = False
    flow_switch_stuck: bool = False
    pump_dead: bool = False
    orp_frozen: bool = False
    orp_dead: bool = False
    orp_drift_mv_day: float = 0.0
    orp_deaf: bool = False
    orp_slope_share: float = 1.0
    orp_lag_times: float = 1.0
    ph_frozen: bool = False
    ph_dead: bool = False
    ph_drift_day: float = 0.0
    probes_swapped: bool = False
    sample_shut: bool = False
    acid_stuck: bool = False
    acid_dead: bool = False
    acid_empty: bool = False
    chlorine_stuck: bool = False
    chlorine_dead: bool = False
    chlorine_empty: bool = False
    acid_siphon_ml_h: float = 0.0
    acid_strength_times: float = 1.0
    chlorine_strength_times: float = 1.0
    cell_output_share: float = 1.0
    feeder_node_silent: bool = False
    feeder_node_rebooting: bool = False
    probe_node_silent: bool = False
    pump_room_node_silent: bool = False
    load_silent: bool = False
    probe_clock_behind_s: float = 0.0
    wall_clock_ahead_s: float = 0.0
    retained_replay: bool = False
    probe_messages_repeated: bool = False
    probe_messages_garbled: bool = False
    second_controller: bool = False
    algae_mg_l_day: float = 0.0
    trichlor_g_h: float = 0.0
    cover_closed: bool = False
    air_offset_c: float = 0.0
    heat_exchange: float = 1.0


@dataclass(frozen=True, slots=True)
class Fault:
    """One fault. text : what it does, for a person; lasts_s : None until it is ended, else it ends by itself."""

    name: str
    text: str
    apply: Callable[[Upset], None]
    lasts_s: float | None = None
