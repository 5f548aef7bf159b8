"""What control aims for and how it feeds."""

from dataclasses import dataclass

from dosectl.model.ranges import setting


@dataclass(frozen=True, slots=True)
class ControlParams:
    """Settings of control. No interlock reads any of them."""

    period_s: float = setting(60.0, ge=10.0, le=600.0, unit="s", why="a pool answers in tens of minutes; own judgement")
    settle_s: float = setting(
        600.0, ge=60.0, le=7200.0, unit="s", why="after it a reading that is still not usable counts as lost; as in the estimate"
    )
    share_salt: float = setting(
        0.05,
        ge=0.03,
        le=0.15,
        unit="of stabiliser",
        why="keeps about 0.02 mg/L HOCl; common practice for salt water",
    )
    share_other: float = setting(
        0.075,
        ge=0.03,
        le=0.15,
        unit="of stabiliser",
        why="keeps about 0.03 mg/L HOCl; common practice for pools without salt",
    )
    target_mg_l_min: float = setting(
        2.0, ge=1.0, le=4.0, unit="mg/L",
        why="middle of 1-3 without stabiliser (common practice); at least 2 with it (CDC advice for home pools, from memory)",
    )  # fmt: skip
    target_mg_l_max: float = setting(
        7.0, ge=2.0, le=7.0, unit="mg/L", why="leaves room under the 10 mg/L of widely used codes; replace water instead"
    )
    trim_per_h: float = setting(0.2, ge=0.0, le=1.0, unit="1/h", why="an error is fed away in some five hours; own judgement")
    trim_integral_per_h2: float = setting(
        0.01, ge=0.0, le=0.2, unit="1/h2", why="slow beside the daily swing, the estimate learns the rest; own judgement"
    )
    cell_period_s: float = setting(1200.0, ge=300.0, le=7200.0, unit="s", why="a cell's relay lasts, the water does not notice")
    cell_on_s_min: float = setting(
        1200.0, ge=60.0, le=7200.0, unit="s", why="few starts a day spare cell and relay; own judgement"
    )
    level_min: float = setting(0.1, ge=0.01, le=1.0, unit="share", why="devices are not linear below it; common practice")
    pump_pulse_mg_l_min: float = setting(0.2, ge=0.05, le=0.4, unit="mg/L", why="a dozen starts on a usual day; own judgement")
    pump_pulse_mg_l_max: float = setting(
        0.5, ge=0.05, le=0.5, unit="mg/L", why="the single-feed limit: on a hot day a pump has no time for more waits"
    )
    pump_rest_s: float = setting(1200.0, ge=60.0, le=14400.0, unit="s", why="the probe should see a feed before the next one")
    ph_target: float = setting(7.5, ge=7.2, le=7.8, unit="pH", why="middle of 7.2-7.8 of widely used codes")
    ph_deadband: float = setting(0.08, ge=0.02, le=0.3, unit="pH", why="some two standard deviations of a probe; own judgement")
    ph_sigma_max: float = setting(0.25, ge=0.05, le=0.5, unit="pH", why="more doubt than this is no ground to feed acid on")
    acid_share: float = setting(
        0.8, ge=0.1, le=0.8, unit="share", why="of what the chemistry asks for; the rest after it has mixed"
    )
    acid_mg_l_max: float = setting(1.0, ge=0.1, le=1.0, unit="mg/L as CaCO3", why="about -0.1 pH, the single-feed limit")
    acid_rest_s: float = setting(1800.0, ge=300.0, le=14400.0, unit="s", why="mixing, so that the probe sees it first")
    acid_slot_s: float = setting(1200.0, ge=300.0, le=3600.0, unit="s", why="a cell's wait, an acid feed and its end fit in")
    acid_every_s: float = setting(10800.0, ge=1800.0, le=86400.0, unit="s", why="so that acid is not starved beside a cell")
    unsure_share: float = setting(
        0.6, ge=0.2, le=0.9, unit="share", why="standard deviation over value; beyond it the estimate is no ground to feed on"
    )
    fallback_share: float = setting(
        0.6, ge=0.0, le=0.6, unit="share", why="of the usual use for the first days; 0 holds chlorine instead; safety analysis"
    )
    fallback_share_late: float = setting(0.3, ge=0.0, le=0.3, unit="share", why="after it, without end; safety analysis")
    fallback_days: float = setting(7.0, ge=1.0, le=7.0, unit="days", why="how long the first share holds; safety analysis")
    usual_mg_l_day: float = setting(
        2.5, ge=0.3, le=4.0, unit="mg/L/day", why="until 3 accepted days have shown it; common practice"
    )
