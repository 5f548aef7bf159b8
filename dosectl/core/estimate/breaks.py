"""What lies between two stored hours: time off, a redox electrode that is not the one it was, fresh product, water exchanged.

It stays with the hour that it begins, and the hours are run again through it. So a late test, or one that is withdrawn after the
power was gone or the electrode was wiped, finds the hours before, and brings neither the old electrode nor the slip back. What
changes at a moment must not be laid on the hours before it: those were of the old product, or of water that was not thinned yet.
"""

from dataclasses import replace

from dosectl.core.estimate.chlorine import DAY_S, Spell, predict, thin
from dosectl.core.estimate.electrode import DOUBT_S, forget_electrode
from dosectl.core.estimate.filters import Rows, rows_of, triangle_of
from dosectl.core.estimate.params import EstimateParams
from dosectl.core.estimate.renewed import fresh_product
from dosectl.core.estimate.state import CHLORINE, OFFSET, Break, Electrode, Estimate, Hour

CHECKED_MV = 15.0  # what wiping and a standard change in a redox electrode; own judgement
MOVED_LOG_VAR = 0.04  # of chlorine, where the electrode was refused for hours and nobody knows since when; own judgement
GAP_S_MAX = 30 * DAY_S
_STEP_S = 6 * 3600.0


def cross(mean: list[float], p: Rows, params: EstimateParams, depth_share: float, broken: Break, before: Hour) -> None:
    """The state of the end of `before` brought over a break, in place."""
    across(mean, p, params, depth_share, broken, before.temp_c, before.ph)
    _changed(mean, p, params, broken)


def across(
    mean: list[float], p: Rows, params: EstimateParams, depth_share: float, broken: Break, temp_c: float, ph: float
) -> None:
    """Time off, in place: the usual losses under mean light; nothing fed that we know of."""
    left_s = min(broken.gap_s, GAP_S_MAX)
    while left_s > 0.0:
        step_s = min(left_s, _STEP_S)
        predict(mean, p, params, Spell(step_s, broken.uv, 0.0, temp_c, min(9.0, max(6.0, ph))), depth_share)
        left_s -= step_s


def _changed(mean: list[float], p: Rows, params: EstimateParams, broken: Break) -> None:
    if broken.renewed:
        fresh_product(mean, p, params)
    if broken.thinned != (0.0, 0.0):
        thin(mean, p, *broken.thinned)
    if broken.electrode is Electrode.CHECKED:
        p[OFFSET][OFFSET] += CHECKED_MV**2
    elif broken.electrode is not None:
        forget_electrode(mean, p, params)
        if broken.electrode is Electrode.MOVED:
            p[CHLORINE][CHLORINE] += MOVED_LOG_VAR


def with_break(est: Estimate, params: EstimateParams, broken: Break) -> Estimate:
    """The estimate after something changed at a moment; a new hour begins with it."""
    mean, p = list(est.mean), rows_of(est.cov)
    _changed(mean, p, params, broken)
    est = replace(est, mean=tuple(mean), cov=triangle_of(p))
    if broken.electrode is not None:
        est = replace(est, misfit_s=0.0, misread_mv=0.0, surprise=0.0)
    if est.hour is None or est.updated_s is None:
        return est
    history = (*est.history, est.hour)
    if broken.electrode is Electrode.MOVED:
        history = tuple(_unread(hour, est.updated_s - 2.0 * DOUBT_S) for hour in history)
    hour = Hour(
        *(est.updated_s, est.mean, est.cov, 0.0, 0.0, 0.0, est.temp_c, est.ph[0], 0.0, 0.0),
        dead_s=est.dead_s,
        broken=broken,
    )
    return replace(est, history=history, hour=hour)


def _unread(hour: Hour, since_s: float) -> Hour:
    """Without its readings, if it began since then: run again, what was refused for hours might be believed."""
    return hour if hour.start_s < since_s else replace(hour, orp_mv_s=0.0, orp_s=0.0)
