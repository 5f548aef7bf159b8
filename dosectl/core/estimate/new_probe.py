"""A probe that was replaced, or set against its standard: what was learnt of it before says nothing, or less, of it now.

The water is what it was; the electrode's offset and slope, or the pH probe's offset, start over with their doubt. The stored
hours go on behind it, see `breaks`.
"""

from dataclasses import replace

from dosectl.core.estimate.breaks import with_break
from dosectl.core.estimate.params import EstimateParams
from dosectl.core.estimate.state import Break, Electrode, Estimate
from dosectl.core.estimate.taken_back import without_electrode, without_ph_probe
from dosectl.model.signals import SignalKind


def with_new_probes(
    est: Estimate, params: EstimateParams, replaced: frozenset[SignalKind], checked: frozenset[SignalKind]
) -> Estimate:
    """The estimate after these kinds of probes were replaced, or checked in their standard. Others change nothing."""
    if SignalKind.PH in replaced or SignalKind.PH in checked:
        est = _with_new_ph(est, params)
    if SignalKind.ORP in replaced:
        est = with_break(est, params, Break(electrode=Electrode.NEW))
        return replace(est, drift_mv_sqrt_day=None, taught=without_electrode(est))
    if SignalKind.ORP in checked:
        return with_break(est, params, Break(electrode=Electrode.CHECKED))
    return est


def _with_new_ph(est: Estimate, params: EstimateParams) -> Estimate:
    """What was taken for the probe's offset may as well have been the water's pH, or the tester's error: that much more doubt."""
    value, offset, var, _, _ = est.ph
    ph = (value, 0.0, min(1.0, var + offset * offset), 0.0, params.ph_sigma**2)
    return replace(est, ph=ph, taught=without_ph_probe(est))
