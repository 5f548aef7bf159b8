"""Salt is a tracer: nothing uses it up, so where it falls, water was exchanged, and the stabiliser was thinned by the same share.

Rain over the overflow, backwash and splash take a tenth of the stabiliser in a wet week, which a test a month finds weeks later.
Means of whole days are compared. Small rises count as small falls do, so that a sensor's noise adds up to nothing (evaporation
concentrates both alike); a large rise is salt that somebody added, a large fall a sensor's step or a pool let out: neither moves
the stabiliser, both leave doubt. Mass balance of a mixed tank; no source needed.
"""

from dataclasses import replace
from math import isfinite, log

from dosectl.core.estimate.breaks import with_break
from dosectl.core.estimate.chlorine import DAY_S
from dosectl.core.estimate.drift import with_drift
from dosectl.core.estimate.everywhere import everywhere
from dosectl.core.estimate.filters import Rows, move_row
from dosectl.core.estimate.params import EstimateParams
from dosectl.core.estimate.state import THINNING, Break, Estimate, EstimateInputs

SEEN_S_MIN = 3 * 3600.0  # of a day, for its mean to count
ADDED_LOG = 0.05  # a rise beyond it in a day is no evaporation, nor noise
LOST_LOG_MOST = 0.1  # a fall beyond it is a sensor's step, or a pool let out and filled: that wants a test
BY_DOUBT, STEP_DOUBT = 0.3, 0.5  # of a change that is believed, and of one that is not; own judgement
WATCHED_SHARE = 0.5  # of the loss and its doubt that the salt does not show: what chlorine and sun oxidise; own judgement


def fitted(params: EstimateParams, est: Estimate) -> EstimateParams:
    """The settings with what was learnt of this pool: how fast its electrode drifts, and whether its salt is watched."""
    return with_thinning(with_drift(params, est), est)


def with_thinning(params: EstimateParams, est: Estimate) -> EstimateParams:
    """The settings for a pool whose salt is watched: the exchange of water is seen, only the slow oxidation is not."""
    if est.salt is None or est.salt[3] <= 0.0:
        return params
    return replace(params, stabiliser_log_sqrt_day=WATCHED_SHARE * params.stabiliser_log_sqrt_day)


def _watched(est: Estimate, share: float) -> Estimate:
    """While salt is seen the exchange of water shows by itself: what is believed of the loss is the part that does not."""

    def scaled(mean: list[float], p: Rows) -> None:
        mean[THINNING] *= share
        move_row(p, THINNING, ((THINNING, share),))

    return everywhere(est, scaled)


def thinned(est: Estimate, params: EstimateParams, inputs: EstimateInputs, settled: bool) -> Estimate:
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
        est = replace(est, salt=(inputs.clock_s, 0.0, 0.0, 0.0))
        return _watched(est, 1.0 / WATCHED_SHARE) if before_g_l > 0.0 else est
    mean_g_l = sum_g_l_s / seen_s
    est = replace(est, salt=(inputs.clock_s, 0.0, 0.0, mean_g_l))
    if before_g_l <= 0.0:
        return _watched(est, WATCHED_SHARE)
    by = log(mean_g_l / before_g_l)
    believed = -LOST_LOG_MOST < by < ADDED_LOG
    shown = Break(thinned=(by if believed else 0.0, (BY_DOUBT if believed else STEP_DOUBT) * by))
    return with_break(est, params, shown) if by != 0.0 else est
