"""What a person added by hand, counted at once. Its doubt covers strength, amount and mixing."""

from dataclasses import replace
from math import exp, log

from dosectl.chemistry import carbonate
from dosectl.core.estimate.chlorine import ADDED_DOUBT, LIMITS, cya_of, put_in
from dosectl.core.estimate.filters import bounded, rows_of, triangle_of
from dosectl.core.estimate.late_tests import HOURS_KEPT, LATE_S, run_again
from dosectl.core.estimate.params import EstimateParams
from dosectl.core.estimate.state import CHLORINE, STABILISER, Estimate, Hour
from dosectl.core.requests.changes import HandAddition
from dosectl.core.site import Site

AT_ONCE_S = 1.0  # how long an addition takes in the history


def with_addition(
    site: Site, est: Estimate, added: HandAddition, params: EstimateParams | None = None, depth_share: float = 1.0
) -> Estimate:
    """The estimate with an addition in it. The chlorine gets a moment of its own in the history, so that a late
    test from before it and one from after it both find it where it was.

    One that is entered late is put in at the start of the hour that it fell into, and the hours since are run again; the probe
    has shown by now what it did to the pH, so that only gets its doubt. Without `params` it counts as of now.
    """
    age_s = 0.0 if est.updated_s is None or est.hour is None or params is None else est.updated_s - added.at_s
    late = age_s > LATE_S
    step = _ph_after(site, est, added) - est.ph[0]
    ph = (est.ph[0] if late else est.ph[0] + step, est.ph[1], est.ph[2] + 0.25 * step * step, est.ph[3], est.ph[4])
    est = replace(
        _with_stabiliser(est, added.stabiliser_mg_l),
        ph=ph,
        alkalinity_mg_l=max(10.0, est.alkalinity_mg_l + added.alkalinity_mg_l),
        alkalinity_var=min(2500.0, est.alkalinity_var + (ADDED_DOUBT * added.alkalinity_mg_l) ** 2),
    )
    if added.free_chlorine_mg_l == 0.0:
        return est
    if late and params is not None:
        return _with_late_chlorine(est, params, depth_share, added)
    return _with_chlorine(est, added.free_chlorine_mg_l)


def _with_stabiliser(est: Estimate, by: float) -> Estimate:
    """Stabiliser now and in every stored hour, so that a late test that runs them again does not lose it."""
    if by <= 0.0:
        return est
    mean, p = list(est.mean), rows_of(est.cov)
    put_in(mean, p, STABILISER, by)
    bounded(mean, p, LIMITS)
    hour = None if est.hour is None else _stabilised(est.hour, by)
    history = tuple(_stabilised(old, by) for old in est.history)
    return replace(est, mean=tuple(mean), cov=triangle_of(p), hour=hour, history=history)


def _with_chlorine(est: Estimate, by: float) -> Estimate:
    """Chlorine put in, or taken out, just now."""
    mean, p = list(est.mean), rows_of(est.cov)
    put_in(mean, p, CHLORINE, by)
    bounded(mean, p, LIMITS)
    history, hour = est.history, est.hour
    if hour is not None and est.updated_s is not None:
        start_s = est.updated_s
        moment = replace(
            hour, start_s=start_s, mean=est.mean, cov=est.cov, span_s=AT_ONCE_S, chlorine_mg_l=0.0, added_mg_l=by, uv_s=0.0,
            orp_mv_s=0.0, orp_s=0.0,
        )  # fmt: skip
        history = (*history, hour, moment)[-HOURS_KEPT:]
        hour = replace(moment, start_s=start_s + AT_ONCE_S, mean=tuple(mean), cov=triangle_of(p), span_s=0.0, added_mg_l=0.0)
    return replace(est, mean=tuple(mean), cov=triangle_of(p), hour=hour, history=history)


def _with_late_chlorine(est: Estimate, params: EstimateParams, depth_share: float, added: HandAddition) -> Estimate:
    """Chlorine that went in hours ago."""
    assert est.hour is not None
    hours = [*est.history, est.hour]
    at = max((i for i, hour in enumerate(hours) if hour.start_s <= added.at_s), default=0)
    hours[at] = replace(hours[at], added_mg_l=hours[at].added_mg_l + added.free_chlorine_mg_l)
    est = replace(est, history=tuple(hours[:-1]), hour=hours[-1])
    return run_again(est, params, depth_share, est.tests, max(added.at_s, hours[0].start_s))


def _stabilised(hour: Hour, by: float) -> Hour:
    """A stored hour as if the stabiliser had been there already: a late test runs the hours again and must not lose it."""
    mean = list(hour.mean)
    mean[STABILISER] = log(exp(mean[STABILISER]) + by)
    return replace(hour, mean=tuple(mean))


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
