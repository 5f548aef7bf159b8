"""Every number of the simulated pool, and the wide random draw of them.

Figures without a source are common practice or our own guesses at what pools do; none is a claim about a real one.
"""

from dataclasses import dataclass, field


@dataclass(frozen=True, slots=True)
class WaterParams:
    """The water at the start and what eats its chlorine.

    attenuation_per_m, shade : light lost with depth; share of the sky's light that reaches the pool
    k_ring_per_s : photolysis of chlorine on the ring in overhead sun (no published rate: a site's own)
    k_thermal_per_day : loss of bound chlorine at 25 C, in the dark; doubles per 10 C
    demand_mg_l_day : dark organic demand at 25 C with plenty of chlorine; doubles per 10 C
    leaves_mg_l_day : chlorine that leaves and pollen of a day with usual wind use up, over the day after; squared with the wind
    co2_transfer_cm_h : gas transfer of carbon dioxide in still air
    cya_loss_mg_l_day, exchange_per_day : slow oxidation of stabiliser; share of the water splashed out and refilled
    mixing_s, still_mixing_s : time for fed chemical to spread with the pump on and off
    """

    volume_m3: float = 50.0
    depth_m: float = 1.5
    free_chlorine_mg_l: float = 2.6
    ph: float = 7.6
    cya_mg_l: float = 50.0
    alkalinity_mg_l: float = 80.0
    salt_g_l: float = 3.2
    temp_c: float = 27.0
    attenuation_per_m: float = 0.8
    shade: float = 0.75
    k_ring_per_s: float = 2.8e-5
    k_thermal_per_day: float = 0.05
    demand_mg_l_day: float = 0.7
    demand_spread: float = 0.12
    leaves_mg_l_day: float = 0.0
    co2_transfer_cm_h: float = 6.0
    cya_loss_mg_l_day: float = 0.15
    exchange_per_day: float = 0.002
    fill_alkalinity_mg_l: float = 120.0
    mixing_s: float = 900.0
    still_mixing_s: float = 14400.0


@dataclass(frozen=True, slots=True)
class WeatherParams:
    """Place and climate. `changeable`, `stormy`: chance that a day is so; the rest is settled."""

    latitude_deg: float = 45.5
    longitude_deg: float = 8.6
    time_zone: str = "Europe/Rome"
    mean_air_c: float = 13.0
    season_swing_c: float = 10.5
    day_swing_c: float = 5.5
    wander_c: float = 2.0
    changeable: float = 0.25
    stormy: float = 0.08


@dataclass(frozen=True, slots=True)
class Party:
    """A known gathering. weekday : 0 is Monday; hours are local."""

    weekday: int
    from_h: float
    to_h: float
    bathers: int


@dataclass(frozen=True, slots=True)
class BatherParams:
    """Who comes. demand_g : chlorine a bather costs (field median 5.5 g, Bradford 2014, IJARE, abstract)."""

    demand_g: float = 5.5
    weekday_chance: float = 0.5
    weekday_bathers_max: int = 3
    weekend_chance: float = 0.4
    weekend_bathers_max: int = 8
    parties: tuple[Party, ...] = ()


@dataclass(frozen=True, slots=True)
class OrpParams:
    """Redox electrode. e0_mv : reading at 1 mg/L HOCl, pH 7.5; lag grows as chlorine falls."""

    e0_mv: float = 765.0
    slope_mv_decade: float = 50.0
    ph_slope_mv: float = 30.0
    offset_mv: float = 0.0
    drift_mv_day: float = 0.0
    fouling_per_day: float = 0.0
    noise_mv: float = 0.8
    wander_mv: float = 3.0
    hydrogen_mv: float = -4.0
    lag_s: float = 60.0
    lag_low_chlorine_s: float = 240.0


@dataclass(frozen=True, slots=True)
class PhParams:
    """pH electrode: reading = 7 + slope (pH - 7) + offset + drift."""

    offset: float = 0.0
    slope: float = 1.0
    drift_per_day: float = 0.0
    noise: float = 0.006
    lag_s: float = 30.0


@dataclass(frozen=True, slots=True)
class SampleLineParams:
    """The probes' line: delay by flow, and what happens to water that stands in it."""

    delay_s: float = 90.0
    plant_room_c: float = 24.0
    warm_s: float = 2700.0
    chlorine_life_s: float = 9000.0


@dataclass(frozen=True, slots=True)
class CirculationParams:
    """Pump hours (local), its power, and the time for water to move after a start."""

    hours: tuple[tuple[float, float], ...] = ((8.0, 20.0),)
    power_w: float = 650.0
    prime_s: float = 3.0


@dataclass(frozen=True, slots=True)
class CellParams:
    """Chlorinator. gas_cutout_s : its own gas sensor stops it after so long without flow; None: it has none."""

    id: str = "cell"
    output_g_h: float = 20.0
    current_a: float = 6.0
    cold_limit_c: float = 15.0
    stop_c: float = 10.0
    salt_full_g_l: float = 2.7
    salt_stop_g_l: float = 1.5
    wear_per_day: float = 0.0003
    gas_cutout_s: float | None = 45.0


@dataclass(frozen=True, slots=True)
class DosingPumpParams:
    """Metering pump with its container.

    strength_g_l : chlorine as Cl2, or alkalinity removed as CaCO3; when delivered. ages : hypochlorite does
    """

    id: str
    acid: bool
    rate_ml_h: float
    strength_g_l: float
    container_ml: float = 20000.0
    fill_ml: float = 16000.0
    ages: bool = False
    age_days: float = 0.0
    storage_c: float = 25.0


# Hydrochloric acid of 15 % by weight, 1.0725 kg/L: 4.41 mol/L, 221 g/L as CaCO3.
ACID_15 = DosingPumpParams("acid", acid=True, rate_ml_h=1200.0, strength_g_l=221.0)
HYPOCHLORITE = DosingPumpParams("hypo", acid=False, rate_ml_h=600.0, strength_g_l=125.0, ages=True)


@dataclass(frozen=True, slots=True)
class PlantParams:
    """The whole plant. The default is what `scenarios.quince_house` is made from."""

    water: WaterParams = field(default_factory=WaterParams)
    weather: WeatherParams = field(default_factory=WeatherParams)
    bathers: BatherParams = field(default_factory=BatherParams)
    orp: OrpParams = field(default_factory=OrpParams)
    ph: PhParams = field(default_factory=PhParams)
    sample_line: SampleLineParams = field(default_factory=SampleLineParams)
    circulation: CirculationParams = field(default_factory=CirculationParams)
    feeders: tuple[CellParams | DosingPumpParams, ...] = (CellParams(), ACID_15)
