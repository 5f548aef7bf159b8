"""One update of the estimate."""

from dataclasses import replace
from datetime import datetime, timedelta
from math import isfinite

from dosectl.chemistry import decay
from dosectl.chemistry.sunlight import clear_sky_uv, sun_elevation_deg
from dosectl.core.estimate import light
from dosectl.core.estimate import ph as acidity
from dosectl.core.estimate.additions import with_addition
from dosectl.core.estimate.begin import START_TEMP_C
from dosectl.core.estimate.breaks import GAP_S_MAX, across, with_break
from dosectl.core.estimate.chlorine import DAY_S, LIMITS, Spell, cya_of, predict, stood_dead_s
from dosectl.core.estimate.drift import FASTEST
from dosectl.core.estimate.electrode import DOUBT_S, use_orp
from dosectl.core.estimate.filters import Rows, bounded, rows_of, triangle_of
from dosectl.core.estimate.late_tests import HOURS_MOST, KEPT_S, still_doubted
from dosectl.core.estimate.new_probe import with_new_probes
from dosectl.core.estimate.params import EstimateParams
from dosectl.core.estimate.state import Break, Electrode, Estimate, EstimateInputs, Hour
from dosectl.core.estimate.surprise import after_reading, widen, yielding
from dosectl.core.estimate.tested import told
from dosectl.core.estimate.thinning import fitted, thinned
from dosectl.core.site import Pool, Site
from dosectl.model.feeds import Substance

GAP_S = 1800.0  # longer without an update: an hour ends with it
WATCHED_S_MAX = 900.0
HOUR_S = 3600.0
_TEMP_FOLLOWS_S = 900.0
_DAY_HOURS = 100  # stored ones; more than a day holds, whatever broke them


def update(site: Site, params: EstimateParams, est: Estimate, inputs: EstimateInputs) -> Estimate:
    """The estimate brought to `inputs.clock_s`.

    Time before `dt_s`, and all but the last period of a `dt_s` over a quarter of an hour, counts as unwatched: readings of now
    and the sun of now say nothing of it. `new_tests` may hold withdrawn ones, also such as were never applied.
    """
    if inputs.renewed:
        est = with_break(est, params, Break(renewed=True))
    if inputs.replaced or inputs.checked:
        est = with_new_probes(est, params, inputs.replaced, inputs.checked)
    told_share, inputs = inputs.light_share, light.believed(inputs)
    est = thinned(est, params, inputs, inputs.flow_proven_for_s >= params.settle_s)
    set_params, params = params, fitted(params, est)
    depth_share = decay.depth_factor(site.pool.depth_m, params.light_attenuation_per_m)
    dt_s = inputs.dt_s
    if dt_s > WATCHED_S_MAX:
        dt_s = params.period_s
        inputs = replace(inputs, dt_s=dt_s)
    mean, p = list(est.mean), rows_of(est.cov)
    broken = None
    if est.updated_s is not None and inputs.clock_s - est.updated_s - dt_s > 1.0:
        est, broken = _across_gap(params, est, mean, p, inputs.clock_s - est.updated_s - dt_s, depth_share)
    hour = est.hour
    if hour is None or hour.span_s >= HOUR_S - 0.5 or (broken is not None and broken.gap_s > GAP_S):
        est = _next_hour(site.pool, est, inputs, mean, p, broken)
        hour = est.hour
        assert hour is not None
    elif broken is not None:
        hour = replace(hour, off_s=hour.off_s + broken.gap_s)
    chlorine = sum(mg_l for substance, mg_l in inputs.fed if substance is Substance.CHLORINE)
    acid = sum(mg_l for substance, mg_l in inputs.fed if substance is Substance.ACID)
    settled = inputs.flow_proven_for_s >= params.settle_s
    temp_c, ph = _follow(site, est, inputs, settled, acid, mean)
    ph_used = min(9.0, max(6.0, ph[0]))
    clear = _uv(site.pool, inputs.utc)
    dark_s = light.dark_after_s(est, told_share, clear, dt_s)
    uv = 0.0 if inputs.cover_closed else clear * light.share(est, inputs)
    if dt_s > 0.0:
        predict(mean, p, params, Spell(dt_s, uv, chlorine, temp_c, ph_used, est.dead_s), depth_share)
    orp = inputs.orp_mv if settled and inputs.orp_mv is not None and isfinite(inputs.orp_mv) and dt_s > 0.0 else None
    doubt = (0.0, 0.0)
    if orp is not None and params.orp_drift_mv_sqrt_day <= FASTEST * EstimateParams().orp_drift_mv_sqrt_day:
        doubt = yielding(est.surprise, dt_s)  # not to an electrode that a test has shown to be tens of mV off
        widen(p, doubt)
    misfit_s, seen_s, surprise, misread_mv = _see_orp(params, est, mean, p, orp, (ph_used, ph[2] ** 0.5), inputs)
    bounded(mean, p, LIMITS)
    grown = _grown(hour, dt_s, chlorine, uv, temp_c, ph_used, orp)
    yielded = (hour.yielded[0] + doubt[0], hour.yielded[1] + doubt[1])
    ph_seen_s = inputs.clock_s if _ph_read(inputs, settled) else est.ph_seen_s
    grown = replace(grown, acid_mg_l=hour.acid_mg_l + acid, ph_read=ph[0] + ph[1], ph_seen_s=ph_seen_s, yielded=yielded)
    new = Estimate(
        mean=tuple(mean),
        cov=triangle_of(p),
        updated_s=inputs.clock_s,
        ph=ph,
        alkalinity_mg_l=max(acidity.LEAST_ALKALINITY_MG_L, est.alkalinity_mg_l - acid),
        alkalinity_var=min(2500.0, est.alkalinity_var + dt_s / DAY_S + (0.1 * acid) ** 2),
        temp_c=temp_c,
        sun_day_h=est.sun_day_h,
        misfit_s=misfit_s,
        hour=grown,
        history=est.history,
        tests=est.tests,
        doubted=est.doubted,
        orp_seen_s=seen_s,
        tested_s=est.tested_s,
        drift_mv_sqrt_day=est.drift_mv_sqrt_day,
        surprise=surprise,
        misread_mv=misread_mv,
        light_share=light.usual_share(est, inputs, clear),
        salt=est.salt,
        taught=est.taught,
        dead_s=stood_dead_s(est.dead_s, mean, _fed_day_mg_l(est.history, grown), dt_s),
        cover_closed=inputs.cover_closed,
        ph_seen_s=ph_seen_s,
        dark_s=dark_s,
    )
    if misfit_s > DOUBT_S:
        new = with_break(new, params, Break(electrode=Electrode.MOVED))
    for added in inputs.additions:
        new = with_addition(site, new, added, params, depth_share)
    return told(set_params, new, inputs.new_tests, depth_share)


def _fed_day_mg_l(history: tuple[Hour, ...], hour: Hour) -> float:
    """Chlorine fed in the last day, as far as its hours are known."""
    return hour.chlorine_mg_l + sum([h.chlorine_mg_l for h in history[-_DAY_HOURS:] if h.start_s > hour.start_s - DAY_S])


def _grown(hour: Hour, dt_s: float, chlorine_mg_l: float, uv: float, temp_c: float, ph: float, orp_mv: float | None) -> Hour:
    """The running hour with one more spell of inputs."""
    return Hour(
        hour.start_s,
        hour.mean,
        hour.cov,
        hour.span_s + dt_s,
        hour.chlorine_mg_l + chlorine_mg_l,
        hour.uv_s + uv * dt_s,
        temp_c,
        ph,
        hour.orp_mv_s if orp_mv is None else hour.orp_mv_s + orp_mv * dt_s,
        hour.orp_s if orp_mv is None else hour.orp_s + dt_s,
        hour.added_mg_l,
        hour.dead_s,
        hour.pours,
        off_s=hour.off_s,
        broken=hour.broken,
    )


def _see_orp(
    params: EstimateParams,
    est: Estimate,
    mean: list[float],
    p: Rows,
    orp_mv: float | None,
    ph_and_sigma: tuple[float, float],
    inputs: EstimateInputs,
) -> tuple[float, float | None, float, float]:
    """Uses a reading, in place. After hours of disbelief, `DOUBT_S`, the electrode has to start over.

    Returns misfit_s, orp_seen_s, surprise, misread_mv.
    """
    if orp_mv is None:
        return est.misfit_s, est.orp_seen_s, est.surprise, est.misread_mv
    believed, off, misread_mv = use_orp(mean, p, params, orp_mv, *ph_and_sigma, inputs.dt_s, est.misread_mv, est.dead_s)
    surprise = after_reading(est.surprise, off, inputs.dt_s)
    if believed:
        return max(0.0, est.misfit_s - inputs.dt_s), inputs.clock_s, surprise, misread_mv
    return est.misfit_s + inputs.dt_s, est.orp_seen_s, surprise, misread_mv


def _uv(pool: Pool, utc: datetime) -> float:
    return clear_sky_uv(sun_elevation_deg(utc, pool.latitude_deg, pool.longitude_deg))


def _follow(
    site: Site, est: Estimate, inputs: EstimateInputs, settled: bool, acid_mg_l: float, mean: list[float]
) -> tuple[float, acidity.Ph]:
    """Temperature and pH, which only mean the pool while its water flows past the probes."""
    temp_c = est.temp_c
    if settled and inputs.temp_c is not None and isfinite(inputs.temp_c):
        first = est.orp_seen_s is None and est.temp_c == START_TEMP_C
        share = 1.0 if first else inputs.dt_s / (inputs.dt_s + _TEMP_FOLLOWS_S)
        temp_c += share * (inputs.temp_c - temp_c)
    ph = acidity.drift(est.ph, inputs.dt_s / DAY_S)
    if acid_mg_l > 0.0:
        ph = acidity.after_acid(site, ph, acid_mg_l, est.alkalinity_mg_l, cya_of(mean), temp_c)
    if _ph_read(inputs, settled) and inputs.ph is not None:
        ph = acidity.use_probe(ph, inputs.ph, inputs.ph_sigma, inputs.dt_s)
    return temp_c, ph


def _ph_read(inputs: EstimateInputs, settled: bool) -> bool:
    return settled and inputs.ph is not None and isfinite(inputs.ph) and inputs.dt_s > 0.0


def _next_hour(
    pool: Pool, est: Estimate, inputs: EstimateInputs, mean: list[float], p: Rows, broken: Break | None = None
) -> Estimate:
    """Closes the running hour into the history and opens the next, after what came between; looks up the day's light."""
    start_s = inputs.clock_s - inputs.dt_s
    history = est.history if est.hour is None else (*est.history, est.hour)
    kept = tuple([h for h in history[-HOURS_MOST:] if h.start_s >= start_s - KEPT_S])
    # One of before the first hour was put in at its begin, and is in it for as long as that hour is kept.
    oldest_s = float("-inf") if len(kept) == len(history) else kept[0].begins_s if kept else start_s
    tests = tuple(t for t in est.tests if t.taken_s >= oldest_s)
    light_h = light.share(est, inputs) * sum(_uv(pool, inputs.utc + timedelta(hours=h + 0.5)) for h in range(24))
    hour = Hour(
        *(start_s, tuple(mean), triangle_of(p), 0.0, 0.0, 0.0, est.temp_c, est.ph[0], 0.0, 0.0),
        dead_s=est.dead_s,
        broken=broken if kept else None,
    )
    return replace(est, hour=hour, history=kept, tests=tests, doubted=still_doubted(est.doubted, tests), sun_day_h=light_h)


def _across_gap(
    params: EstimateParams, est: Estimate, mean: list[float], p: Rows, gap_s: float, depth_share: float
) -> tuple[Estimate, Break]:
    """Time off: the usual losses under mean light, none where the cover was closed; nothing fed that we know of. Short gaps are
    of the running hour, a longer one breaks it."""
    broken = Break(gap_s, 0.0 if est.cover_closed else est.sun_day_h / 24.0)
    across(mean, p, params, depth_share, broken, est.temp_c, est.ph[0])
    days = min(gap_s, GAP_S_MAX) / DAY_S
    var = min(2500.0, est.alkalinity_var + 4.0 * days)
    return replace(est, ph=acidity.drift(est.ph, days), alkalinity_var=var), broken
