"""What a person added by hand, counted at once. Its doubt covers strength, amount and mixing."""

from dataclasses import replace

from dosectl.chemistry import carbonate
from dosectl.core.estimate import ph as acidity
from dosectl.core.estimate.chlorine import ADDED_DOUBT, cya_of, pour_in
from dosectl.core.estimate.filters import rows_of, triangle_of
from dosectl.core.estimate.hours_ph import Change, taken_s, with_changed
from dosectl.core.estimate.late_tests import LATE_S, past_pour, run_again
from dosectl.core.estimate.params import EstimateParams
from dosectl.core.estimate.state import Estimate, Hour, Pour
from dosectl.core.estimate.taken_back import poured_on
from dosectl.core.requests.changes import HandAddition
from dosectl.core.site import Site
from dosectl.model.water_tests import Quantity


def with_addition(
    site: Site, est: Estimate, added: HandAddition, params: EstimateParams | None = None, depth_share: float = 1.0
) -> Estimate:
    """The estimate with an addition in it. What it brought of chlorine and stabiliser keeps its own moment in the stored hours,
    so that a late test from before it and one from after it both find it where it was.

    One that is entered late, or after a test that has seen it, is put in where it was, and the hours since are run again. What a
    late one did to the pH the probe or a test has shown by now, so that only gets its doubt; where none has, it moved the pH of
    the hours since. Without `params` it counts as of now.
    """
    late = est.updated_s is not None and est.hour is not None and params is not None and est.updated_s - added.at_s > LATE_S
    shown = late and _ph_shown_since(est, added.at_s)
    step = _ph_after(site, est, added) - est.ph[0]
    ph = (est.ph[0] if shown else est.ph[0] + step, est.ph[1], est.ph[2] + 0.25 * step * step, est.ph[3], est.ph[4])
    est = replace(
        est,
        ph=ph,
        alkalinity_mg_l=max(acidity.LEAST_ALKALINITY_MG_L, est.alkalinity_mg_l + added.alkalinity_mg_l),
        alkalinity_var=min(2500.0, est.alkalinity_var + (ADDED_DOUBT * added.alkalinity_mg_l) ** 2),
    )
    if params is not None and late and not shown:
        est = with_changed(params, est, (Change(added.at_s, added.at_s, step, 0.0),), depth_share)
    pour = Pour(added.at_s, added.free_chlorine_mg_l, max(0.0, added.stabiliser_mg_l), added.alkalinity_mg_l)
    if not pour.of_joint_state:
        return _noted(est, pour)
    est = replace(est, taught=poured_on(est, pour))
    if params is not None and past_pour(est, pour):
        return _poured_before(est, params, depth_share, pour)
    return _poured_now(est, pour)


def _ph_shown_since(est: Estimate, at_s: float) -> bool:
    """Whether the probe was read, or a test of pH taken, since then."""
    if est.ph_seen_s is not None and est.ph_seen_s > at_s:
        return True
    used = [t for t in est.taught if t.quantity is Quantity.PH and t.at_s is not None and t.request not in est.doubted]
    return any(taken_s(t) > at_s for t in used)


def _poured_now(est: Estimate, pour: Pour) -> Estimate:
    """Put in, or taken out, just now. A new hour begins with it, as the readings until now are of the water before."""
    mean, p = list(est.mean), rows_of(est.cov)
    pour_in(mean, p, pour)
    history, hour = est.history, est.hour
    if hour is not None and est.updated_s is not None:
        if hour.span_s > 0.0:
            history = (*history, hour)
            hour = Hour(
                est.updated_s, est.mean, est.cov, 0.0, 0.0, 0.0, hour.temp_c, hour.ph, 0.0, 0.0, dead_s=est.dead_s
            )  # fmt: skip
        hour = replace(hour, pours=(*hour.pours, pour))
    return replace(est, mean=tuple(mean), cov=triangle_of(p), hour=hour, history=history)


def _poured_before(est: Estimate, params: EstimateParams, depth_share: float, pour: Pour) -> Estimate:
    """Put in, or taken out, hours ago, or before a test."""
    assert est.hour is not None
    begins_s = min([hour.begins_s for hour in (*est.history, est.hour)])
    if est.tested_s is not None and pour.at_s < est.tested_s <= begins_s:
        pour = replace(pour, free_chlorine_mg_l=0.0)  # a test that is in all of the stored hours has found it
    est = _noted(est, pour)
    return run_again(est, params, depth_share, est.tests, max(pour.at_s, begins_s))


def _noted(est: Estimate, pour: Pour) -> Estimate:
    """With a pour in its hour, or in the first one if it is older."""
    if est.hour is None:
        return est
    hours = [*est.history, est.hour]
    at = max((i for i, hour in enumerate(hours) if hour.begins_s <= pour.at_s), default=0)
    hours[at] = replace(hours[at], pours=(*hours[at].pours, pour))
    # The history is a part of its own in the record: the same object where nothing in it changed.
    history = est.history if at == len(est.history) else tuple(hours[:-1])
    return replace(est, history=history, hour=hours[-1])


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
