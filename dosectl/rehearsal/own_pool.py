"""A simulated pool for anybody's settings: what they describe as well as settings can, with weather, guests and probes made up.

It answers what other settings would change, not what the owner's water will do: sun, demand and electrode are those of a usual
pool.
"""

from collections.abc import Mapping
from dataclasses import replace
from datetime import datetime

from dosectl.core.evidence import Standing
from dosectl.core.site import Feeder, Signal, Site
from dosectl.model.signals import SignalId, SignalKind
from dosectl.pool_model.params import (
    CellParams,
    CirculationParams,
    DosingPumpParams,
    OrpParams,
    PhParams,
    PlantParams,
    WaterParams,
    WeatherParams,
)
from dosectl.pool_model.plant import PoolPlant
from dosectl.rehearsal.loop import ClosedLoop, plan_of, proven
from dosectl.settings.load import Loaded

PUMP_ON_W = 300.0
PROBE_LIKE = OrpParams(offset_mv=6.0, drift_mv_day=0.1), PhParams(offset=0.03)


def plant_params(site: Site, pump_hours: tuple[tuple[float, float], ...] = CirculationParams().hours) -> PlantParams:
    """The pool that these settings describe. Raises ValueError for a feeder that the simulated pool has no kind for.

    pump_hours : of the pool's own day, each from and to, 0 to 24
    """
    pool = site.pool
    target = min(6.0, max(2.0, 0.05 * pool.stabiliser_mg_l))
    water = WaterParams(
        volume_m3=pool.volume_m3,
        depth_m=pool.depth_m,
        free_chlorine_mg_l=target,
        cya_mg_l=pool.stabiliser_mg_l,
        alkalinity_mg_l=pool.alkalinity_mg_l,
        salt_g_l=max(pool.salt_g_l, 3.2) if any(f.kind == "cell" for f in site.feeders) else pool.salt_g_l,
    )
    weather = WeatherParams(latitude_deg=pool.latitude_deg, longitude_deg=pool.longitude_deg, time_zone=pool.time_zone)
    orp, ph = PROBE_LIKE
    feeders = tuple(_feeder(feeder) for feeder in site.feeders)
    return PlantParams(water, weather, orp=orp, ph=ph, circulation=CirculationParams(hours=pump_hours), feeders=feeders)


def _feeder(feeder: Feeder) -> CellParams | DosingPumpParams:
    name, g_h = str(feeder.id), feeder.rate_g_s * 3600.0
    if feeder.kind == "cell":
        return CellParams(id=name, output_g_h=g_h)
    if feeder.ml_per_g <= 0.0:
        raise ValueError(f"feeders.{name}: its strength is not known, so it can't be simulated")
    acid = feeder.substance.value == "acid"
    fill = feeder.container_ml or 20000.0
    return DosingPumpParams(
        id=name,
        acid=acid,
        rate_ml_h=g_h * feeder.ml_per_g,
        strength_g_l=1000.0 / feeder.ml_per_g,
        container_ml=fill,
        fill_ml=fill,
        ages=not acid,
    )


class OwnPlant(PoolPlant):
    """The simulated pool, seen through the signals of given settings: each by its id, as its node would send it."""

    def __init__(self, site: Site, params: PlantParams, start_utc: datetime, seed: int) -> None:
        super().__init__(params, start_utc, seed)
        self._site = site

    def signals(self) -> dict[str, float | bool]:
        """See `protocol.Plant`; the plant's own names, and `id:` and the id of each signal of the settings."""
        own = super().signals()
        for signal in self._site.signals:
            value = _seen(signal, own)
            if value is not None:
                own[f"id:{signal.id}"] = value
        return own


def _seen(signal: Signal, own: Mapping[str, float | bool]) -> float | bool | None:
    """What the node would send for one signal. None: it stays silent, as nothing of the kind is simulated."""
    kind = signal.kind
    plain = {
        SignalKind.ORP: "orp_mv", SignalKind.PH: "ph", SignalKind.WATER_TEMP: "temp_c", SignalKind.SALT: "salt_g_l",
        SignalKind.SUNLIGHT: "sunlight_percent",
    }.get(kind)  # fmt: skip
    if plain is not None:
        return (float(own[plain]) - signal.offset) / (signal.slope or 1.0)
    if kind is SignalKind.LEVEL:
        return own.get(f"{signal.feeder}_percent")
    if kind is SignalKind.CELL_CURRENT:
        return own.get(f"{signal.feeder}_a")
    states = {
        SignalKind.FLOW: bool(own["flow"]), SignalKind.SAMPLE_FLOW: bool(own["flow"]), SignalKind.WATER_PATH: True,
        SignalKind.PUMP: float(own["pump_w"]) > PUMP_ON_W, SignalKind.COVER: bool(own["cover_closed"]),
        SignalKind.STOP_INPUT: False, SignalKind.PRESENCE: False,
        SignalKind.FEEDBACK: bool(own.get(f"{signal.feeder}_running", float(own.get(f"{signal.feeder}_a", 0.0)) > 0.5)),
    }  # fmt: skip
    state = states.get(kind)
    if state is None or signal.threshold is None:
        return state
    return 2.0 * signal.threshold if state else 0.0


def own_loop(
    loaded: Loaded,
    start_utc: datetime,
    seed: int,
    pool_of: Site | None = None,
    step_s: float = 60.0,
    *,
    pump_hours: tuple[tuple[float, float], ...] = CirculationParams().hours,
    use_mg_l_day: float = 2.4,
) -> tuple[ClosedLoop, OwnPlant]:
    """The controller under these settings, every feeder taken as proven, beside the pool that they describe.

    pool_of : the settings whose water and place are simulated, None for these; the feeders are always those of these settings
    pump_hours : as `plant_params`; use_mg_l_day : chlorine that each of 14 days before took
    Raises ValueError where the settings can't be simulated.
    """
    site = replace(loaded.site, simulated=True)
    plan = plan_of(replace(loaded, site=site), step_s)
    params = replace(plant_params(pool_of or site, pump_hours), feeders=plant_params(site).feeders)
    plant = OwnPlant(site, params, start_utc, seed)
    names = {SignalId(signal.id): f"id:{signal.id}" for signal in site.signals}
    return ClosedLoop(plan, plant, names, taken_as_proven(plan.site, use_mg_l_day), step_s), plant


def taken_as_proven(site: Site, use_mg_l_day: float | None) -> Standing:
    """As `loop.proven`, for anybody's settings. A relay without a node can't say that it is simulated, and no relay is there: its
    record is taken as one of a real walk."""
    standing = proven(site, use_mg_l_day)
    return replace(standing, proofs=tuple(replace(proof, simulated=bool(proof.node)) for proof in standing.proofs))
