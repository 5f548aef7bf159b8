"""What the estimate assumes before the pool has taught it better."""

from dataclasses import dataclass

from dosectl.model.ranges import setting


@dataclass(frozen=True, slots=True)
class EstimateParams:
    """Settings of the estimate. Doubts are standard deviations; `_log_sigma` ones are of the natural logarithm."""

    period_s: float = setting(60.0, ge=10.0, le=600.0, unit="s", why="a pool answers in tens of minutes; own judgement")
    settle_s: float = setting(
        600.0, ge=60.0, le=7200.0, unit="s", why="old water leaves the probes' line and the electrode settles; common practice"
    )
    demand_mg_l_day: float = setting(
        1.2, ge=0.05, le=8.0, unit="mg/L/day", why="at 3 mg/L and 25 C; with the sun it makes the usual 2-3; common practice"
    )
    demand_log_sigma: float = setting(0.5, ge=0.05, le=1.0, unit="ln", why="pools differ by some factor of 2.5; own judgement")
    demand_log_sqrt_day: float = setting(
        0.08, ge=0.01, le=0.5, unit="ln/sqrt day", why="8 % a day, a fifth in a week; own judgement"
    )
    sun_ring_per_h: float = setting(
        0.03, ge=0.0, le=0.2, unit="1/h", why="ring-bound chlorine under overhead sun; no rate is published, fitted on site"
    )
    sun_log_sigma: float = setting(0.6, ge=0.05, le=1.2, unit="ln", why="shade, depth and clouds are not known; own judgement")
    light_attenuation_per_m: float = setting(0.5, ge=0.0, le=5.0, unit="1/m", why="clear pool water near 330 nm; an estimate")
    orp_reference_mv: float = setting(
        690.0, ge=300.0, le=950.0, unit="mV", why="at 0.03 mg/L HOCl, pH 7.5; electrodes in pools read 600-800; common practice"
    )
    orp_reference_sigma_mv: float = setting(60.0, ge=2.0, le=150.0, unit="mV", why="spread between pools; common practice")
    orp_slope_mv: float = setting(
        38.0, ge=15.0, le=120.0, unit="mV/decade", why="theory is 29.6; real electrodes are often steeper; common practice"
    )
    orp_slope_sigma_mv: float = setting(9.0, ge=0.5, le=40.0, unit="mV/decade", why="own judgement")
    orp_sigma_mv: float = setting(
        6.0, ge=1.0, le=50.0, unit="mV", why="error that stays for an hour, not the reading's noise; own judgement"
    )
    orp_error_s: float = setting(3600.0, ge=60.0, le=86400.0, unit="s", why="how long such an error stays; own judgement")
    orp_drift_mv_sqrt_day: float = setting(
        3.0, ge=0.1, le=30.0, unit="mV/sqrt day", why="8 mV a week from fouling, common practice; then learnt from tests"
    )
    orp_drift_sigma_mv_day: float = setting(
        0.5, ge=0.01, le=3.0, unit="mV/day", why="steady drift, some 10 mV a month either way; common practice"
    )
    feeder_log_sigma: float = setting(
        0.15, ge=0.01, le=0.5, unit="ln", why="volume, output and strength are each wrong by some ten per cent; own judgement"
    )
    product_log_sigma: float = setting(
        0.2, ge=0.01, le=0.6, unit="ln", why="hypochlorite as bought, weeks old and stored warm or cool; own judgement"
    )
    unknown_loss_mg_l_sqrt_day: float = setting(
        0.4, ge=0.02, le=3.0, unit="mg/L/sqrt day", why="bathers, leaves, rain that nobody reported; own judgement"
    )
    unknown_loss_share: float = setting(0.1, ge=0.0, le=1.0, unit="share", why="clouds and weather on top of it; own judgement")
    stabiliser_sigma_mg_l: float = setting(
        15.0, ge=1.0, le=60.0, unit="mg/L", why="of a typed-in figure; turbidity tests err by 10-15; common practice"
    )
    stabiliser_loss_share_day: float = setting(
        0.0045, ge=0.0, le=0.02, unit="1/day", why="5-10 mg/L of 50 a month, by splash and backwash; common practice"
    )
    stabiliser_loss_sigma_share_day: float = setting(
        0.005, ge=0.0005, le=0.02, unit="1/day", why="a wet month or a leak takes three times the usual; own judgement"
    )
    stabiliser_log_sqrt_day: float = setting(
        0.02, ge=0.002, le=0.1, unit="ln/sqrt day", why="11 % a month: water is replaced, stabiliser is added; own judgement"
    )
    ph_sigma: float = setting(0.1, ge=0.02, le=0.5, unit="pH", why="offset of a calibrated probe after a month; common practice")
