"""What a person added by hand, counted at once. Its doubt covers strength, amount and mixing."""

from dataclasses import replace
from math import exp, log

from dosectl.chemistry import carbonate
from dosectl.core.estimate.chlorine import LIMITS, cya_of
from dosectl.core.estimate.filters import Rows, bounded, rows_of, triangle_of
from dosectl.core.estimate.late_tests import HOURS_KEPT
from dosectl.core.estimate.state import CHLORINE, EFFECT, STABILISER, Estimate, Hour
from dosectl.core.requests.changes import HandAddition
from dosectl.core.site import Site

DOUBT_SHARE = 0.2  # of what was added, one standard deviation; own judgement
AT_ONCE_S = 1.0  # how long an addition takes in the history


def with_addition(site: Site, est: Estimate, added: HandAddition) -> Estimate:
    """The estimate with an addition in it. The chlorine gets a moment of its own in the history, so that a late
    test from before it and one from after it both find it where it was."""
    mean, p = list(est.mean), rows_of(est.cov)
    ph = _ph_after(site, est, added)
    _raise(mean, p, CHLORINE, added.free_chlorine_mg_l)
    _raise(mean, p, STABILISER, added.stabiliser_mg_l)
    bounded(mean, p, LIMITS)
    history, hour = est.history, est.hour
    if added.stabiliser_mg_l > 0.0:
        history = tuple(_stabilised(old, added.stabiliser_mg_l) for old in history)
        hour = None if hour is None else _stabilised(hour, added.stabiliser_mg_l)
    if hour is not None and est.updated_s is not None and added.free_chlorine_mg_l > 0.0:
        start_s = est.updated_s
        # An hour that is run again multiplies by what arrives of a feeder's chlorine; what was poured in has arrived.
        by_hand_mg_l = added.free_chlorine_mg_l / exp(est.mean[EFFECT])
        moment = replace(
            _stabilised(replace(hour, mean=est.mean), added.stabiliser_mg_l),
            start_s=start_s, cov=est.cov, span_s=AT_ONCE_S, chlorine_mg_l=by_hand_mg_l, uv_s=0.0,
            orp_mv_s=0.0, orp_s=0.0,
        )  # fmt: skip
        history = (*history, hour, moment)[-HOURS_KEPT:]
        hour = replace(moment, start_s=start_s + AT_ONCE_S, mean=tuple(mean), cov=triangle_of(p), span_s=0.0, chlorine_mg_l=0.0)
    step = ph - est.ph[0]
    return replace(
        est,
        mean=tuple(mean),
        cov=triangle_of(p),
        hour=hour,
        history=history,
        ph=(ph, est.ph[1], est.ph[2] + 0.25 * step * step, est.ph[3], est.ph[4]),
        alkalinity_mg_l=max(10.0, est.alkalinity_mg_l + added.alkalinity_mg_l),
        alkalinity_var=min(2500.0, est.alkalinity_var + (DOUBT_SHARE * added.alkalinity_mg_l) ** 2),
    )


def _stabilised(hour: Hour, by: float) -> Hour:
    """A stored hour as if the stabiliser had been there already: a late test runs the hours again and must not lose it."""
    mean = list(hour.mean)
    mean[STABILISER] = log(exp(mean[STABILISER]) + by)
    return replace(hour, mean=tuple(mean))


def _raise(mean: list[float], p: Rows, state: int, by: float) -> None:
    """Adds to a state kept as a logarithm, in place: its relative doubt shrinks, and the addition's own comes in."""
    if by <= 0.0:
        return
    before = exp(mean[state])
    after = before + by
    mean[state] = log(after)
    share = before / after
    for other in range(len(mean)):
        p[state][other] *= share
        p[other][state] = p[state][other]
    p[state][state] = p[state][state] * share + (DOUBT_SHARE * by / after) ** 2


def _ph_after(site: Site, est: Estimate, added: HandAddition) -> float:
    """pH once mixed and, of chlorine, used: as the estimate counts fed chlorine too. Unchanged where the model's range ends."""
    value = min(9.0, max(6.2, est.ph[0]))
    cya = cya_of(est.mean)
    alkalinity = max(est.alkalinity_mg_l, 15.0 + 0.45 * cya)
    try:
        after = carbonate.ph_after_change(
            alkalinity,
            cya,
            value,
            ta_change_mg_l=max(added.alkalinity_mg_l, -0.8 * alkalinity),
            dic_change_mmol_l=added.carbon_mmol_l,
            cya_change_mg_l=added.stabiliser_mg_l,
            borate_change_b_mg_l=added.borate_b_mg_l,
            borate_b_mg_l=site.pool.borate_b_mg_l,
            temp_c=min(45.0, max(0.0, est.temp_c)),
            salt_g_l=site.pool.salt_g_l,
        )
    except ValueError:
        return est.ph[0]
    return min(9.5, max(5.5, est.ph[0] + after - value))
