"""A probe that was replaced, or set against its standard: what was learnt of it before says nothing, or less, of it now.

The water is what it was; the electrode's offset and slope, or the pH probe's offset, start over with their doubt, and so do the
stored hours: run again with a late test they would bring the old probe back.
"""

from dataclasses import replace

from dosectl.core.estimate.electrode import forget_electrode
from dosectl.core.estimate.filters import rows_of, triangle_of
from dosectl.core.estimate.late_tests import unsettled_with
from dosectl.core.estimate.params import EstimateParams
from dosectl.core.estimate.state import OFFSET, Estimate
from dosectl.core.estimate.taken_back import forgotten
from dosectl.model.signals import SignalKind

CHECKED_MV = 15.0  # what wiping and a standard change in a redox electrode; own judgement


def with_new_probes(
    est: Estimate, params: EstimateParams, replaced: frozenset[SignalKind], checked: frozenset[SignalKind]
) -> Estimate:
    """The estimate after these kinds of probes were replaced, or checked in their standard. Others change nothing."""
    if SignalKind.PH in replaced or SignalKind.PH in checked:
        est = _with_new_ph(est, params)
    if SignalKind.ORP in replaced:
        est = _with_electrode(est, params, new=True)
    elif SignalKind.ORP in checked:
        est = _with_electrode(est, params, new=False)
    return est


def _with_electrode(est: Estimate, params: EstimateParams, new: bool) -> Estimate:
    mean, p = list(est.mean), rows_of(est.cov)
    if new:
        forget_electrode(mean, p, params)
    else:
        p[OFFSET][OFFSET] += CHECKED_MV**2
    return replace(
        est,
        mean=tuple(mean),
        cov=triangle_of(p),
        hour=None,
        history=(),
        tests=(),
        unsettled=unsettled_with(est, est.tests, est.updated_s or 0.0),
        misfit_s=0.0,
        misread_mv=0.0,
        surprise=0.0,
        drift_mv_sqrt_day=None if new else est.drift_mv_sqrt_day,
        taught=forgotten(est, SignalKind.ORP),
    )


def _with_new_ph(est: Estimate, params: EstimateParams) -> Estimate:
    """What was taken for the probe's offset may as well have been the water's pH, or the tester's error: that much more doubt."""
    value, offset, var, _, _ = est.ph
    ph = (value, 0.0, min(1.0, var + offset * offset), 0.0, params.ph_sigma**2)
    return replace(est, ph=ph, taught=forgotten(est, SignalKind.PH))
