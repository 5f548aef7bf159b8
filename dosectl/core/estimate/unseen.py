"""What flows past the redox electrode and is not the pool: fresh chlorine that is still on its way, and old water in the line.

What was just fed reaches the electrode once it is mixed in, some tens of minutes later. Taken for the whole pool's, the reading
lies behind all day, while chlorine is fed, and flattens the day's curve, from which level and slope are learnt. And the first
minutes of a day's flow bring what stood in the probes' line, and an electrode that has lived in it.
"""

from math import exp

from dosectl.core.estimate.params import EstimateParams

STILL_TIMES = 4.0  # slower while no pump stirs the pool; own judgement
STALE_S = 400.0  # in which old water leaves the line and a starved electrode wakes; own judgement


def unmixed_after(params: EstimateParams, unmixed_mg_l: float, fed_mg_l: float, dt_s: float, flowing: bool) -> float:
    """Chlorine in the water that is not mixed in yet, after `dt_s` in which `fed_mg_l` arrived. [mg/L of the pool]

    unmixed_mg_l : before, less what the pool's losses took of it
    """
    return max(0.0, unmixed_mg_l + fed_mg_l) * exp(-dt_s / (params.mixing_s if flowing else STILL_TIMES * params.mixing_s))


def stale_mv(params: EstimateParams, since_settled_s: float) -> float:
    """How far a reading may be off by old water, so long after readings are used at all. One standard deviation [mV]"""
    return params.orp_stale_mv * exp(-max(0.0, since_settled_s) / STALE_S)
