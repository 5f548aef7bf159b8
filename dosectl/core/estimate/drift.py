"""How fast this electrode drifts, learnt from how well the tests are foretold.

Pools and electrodes differ by more than one assumed drift can cover: too slow a drift and weeks of it are taken for chlorine, too
fast and the electrode is hardly believed. Each chlorine test after some days shows whether the stated doubt was right: an error
larger than stated makes the drift faster, a smaller one slower (a stochastic approximation after Robbins and Monro, 1951).
"""

from collections.abc import Sequence
from dataclasses import replace
from math import exp, log, log10, sqrt

from dosectl.core.estimate.filters import var_of
from dosectl.core.estimate.params import EstimateParams
from dosectl.core.estimate.state import CHLORINE, SLOPE, Estimate
from dosectl.model.water_tests import WaterTest

APART_S = 4 * 86400.0  # a test sooner after the last says little of drift
MOVED_MV, MOVED_MOST = 30.0, 40.0  # what no wander of a sound electrode reaches [mV], and the fastest believed [mV/sqrt day]
GAIN = 0.35
SURPRISE_MAX = 6.0  # one slip of the hand must not teach more than this
SLOWEST, FASTEST = 0.3, 3.0  # of the setting
_SMALL_MG_L = 0.1
SEEN_S = 86400.0  # the electrode was believed within this time before the test


def with_drift(params: EstimateParams, est: Estimate) -> EstimateParams:
    """The settings with what was learnt of the drift."""
    return params if est.drift_mv_sqrt_day is None else replace(params, orp_drift_mv_sqrt_day=est.drift_mv_sqrt_day)


def drift_after(params: EstimateParams, est: Estimate, test: WaterTest) -> float | None:
    """The drift believed after a test of free chlorine. [mV/sqrt day] `params` as set or as learnt so far."""
    known = est.drift_mv_sqrt_day
    moved_mv = misled_mv(est, test)
    if abs(moved_mv) >= MOVED_MV:
        since_s = 86400.0 if est.tested_s is None else test.taken_s - est.tested_s
        days = min(7.0, max(1.0, since_s / 86400.0))
        return max(known or 0.0, min(MOVED_MOST, abs(moved_mv) / sqrt(days)))
    if est.tested_s is None or test.taken_s - est.tested_s < APART_S or est.updated_s is None:
        return known
    value = test.value + _SMALL_MG_L
    error = log(value / (exp(est.mean[CHLORINE]) + _SMALL_MG_L))
    stated = var_of(est.cov, CHLORINE) + (test.sigma / value) ** 2
    surprise = min(SURPRISE_MAX, error * error / stated)
    usual = EstimateParams().orp_drift_mv_sqrt_day
    drift = params.orp_drift_mv_sqrt_day if known is None else known
    return min(max(FASTEST * usual, drift), max(SLOWEST * usual, drift * exp(GAIN * (surprise - 1.0))))


def misled_mv(est: Estimate, test: WaterTest) -> float:
    """How far the electrode reads too low by a test [mV], below 0 too high; 0 where the chlorine was not believed by it."""
    return misled_by_mv(est.mean, est.orp_seen_s, test)


def misled_by_mv(mean: Sequence[float], seen_s: float | None, test: WaterTest) -> float:
    """As `misled_mv`, of any state; `seen_s` as the estimate's `orp_seen_s`."""
    if seen_s is None or test.taken_s - seen_s > SEEN_S:
        return 0.0
    return mean[SLOPE] * log10((test.value + _SMALL_MG_L) / (exp(mean[CHLORINE]) + _SMALL_MG_L))
