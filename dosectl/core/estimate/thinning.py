"""Salt is a tracer: nothing uses it up, so where it falls, water was exchanged, and the stabiliser was thinned by the same share.

Rain over the overflow, backwash and splash take a tenth of the stabiliser in a wet week, which a test a month finds weeks later.
Means of whole days are compared, so that a sensor's noise cancels; a rise is salt that somebody added and says nothing.
Evaporation concentrates both alike. Mass balance of a mixed tank; no source needed.
"""

from dataclasses import replace
from math import exp, isfinite, log

from dosectl.core.estimate.chlorine import CYA_SHIFT_MG_L, DAY_S
from dosectl.core.estimate.filters import move_row, rows_of, triangle_of
from dosectl.core.estimate.params import EstimateParams
from dosectl.core.estimate.state import STABILISER, THINNING, Estimate, EstimateInputs, Hour

SEEN_S_MIN = 3 * 3600.0  # of a day, for its mean to count
ADDED_LOG = 0.02  # a rise beyond it in a day is no evaporation
LOST_LOG_MOST = 0.5  # a fall beyond it is a sensor's fault, or a pool let out and filled: that wants a test
WATCHED_SHARE = 0.5  # of the loss and its doubt that the salt does not show: what chlorine and sun oxidise; own judgement


def with_thinning(params: EstimateParams, est: Estimate) -> EstimateParams:
    """The settings for a pool whose salt is watched: the exchange of water is seen, only the slow oxidation is not."""
    if est.salt is None or est.salt[3] <= 0.0:
        return params
    return replace(
        params,
        stabiliser_log_sqrt_day=WATCHED_SHARE * params.stabiliser_log_sqrt_day,
    )


def _first_seen(est: Estimate) -> Estimate:
    """From now on the exchange of water is seen by itself: what was believed of the loss is cut to the part that is not."""
    mean, cov = _cut(est.mean, est.cov)
    hour = None if est.hour is None else _cut_hour(est.hour)
    return replace(est, mean=mean, cov=cov, hour=hour, history=tuple(_cut_hour(old) for old in est.history))


def _cut_hour(hour: Hour) -> Hour:
    mean, cov = _cut(hour.mean, hour.cov)
    return replace(hour, mean=mean, cov=cov)


def _cut(mean: tuple[float, ...], cov: tuple[float, ...]) -> tuple[tuple[float, ...], tuple[float, ...]]:
    after, p = list(mean), rows_of(cov)
    after[THINNING] *= WATCHED_SHARE
    move_row(p, THINNING, ((THINNING, WATCHED_SHARE),))
    return tuple(after), triangle_of(p)


def thinned(est: Estimate, inputs: EstimateInputs, settled: bool) -> Estimate:
    """The estimate with one more spell of salt seen, and at the end of a day with what it shows of the stabiliser."""
    begun_s, sum_g_l_s, seen_s, before_g_l = est.salt or (inputs.clock_s, 0.0, 0.0, 0.0)
    salt = inputs.salt_g_l
    if settled and salt is not None and isfinite(salt) and salt > 0.0 and inputs.dt_s > 0.0:
        sum_g_l_s, seen_s = sum_g_l_s + salt * inputs.dt_s, seen_s + inputs.dt_s
    elif est.salt is None:
        return est
    if inputs.clock_s - begun_s < DAY_S:
        return replace(est, salt=(begun_s, sum_g_l_s, seen_s, before_g_l))
    if seen_s < SEEN_S_MIN:
        return replace(est, salt=(inputs.clock_s, 0.0, 0.0, before_g_l))
    mean_g_l = sum_g_l_s / seen_s
    est = replace(est, salt=(inputs.clock_s, 0.0, 0.0, mean_g_l))
    if before_g_l <= 0.0:
        return _first_seen(est)
    by = log(mean_g_l / before_g_l)
    return _by(est, by) if -LOST_LOG_MOST < by < ADDED_LOG and by != 0.0 else est


def _by(est: Estimate, by: float) -> Estimate:
    """Stabiliser times exp(by), now and in every stored hour: a late test runs those again and must not bring it back."""
    hour = None if est.hour is None else replace(est.hour, mean=_mean(est.hour.mean, by))
    history = tuple(replace(old, mean=_mean(old.mean, by)) for old in est.history)
    return replace(est, mean=_mean(est.mean, by), hour=hour, history=history)


def _mean(mean: tuple[float, ...], by: float) -> tuple[float, ...]:
    cya = max(0.0, exp(mean[STABILISER]) - CYA_SHIFT_MG_L)
    after = list(mean)
    after[STABILISER] = log(cya * exp(by) + CYA_SHIFT_MG_L)
    return tuple(after)
