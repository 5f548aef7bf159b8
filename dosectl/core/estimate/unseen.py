"""What flows past the redox electrode and is not the pool: fresh chlorine that is still on its way, and old water in the line.

What was just fed reaches the electrode once it is mixed in, some tens of minutes later. Taken for the whole pool's, the reading
lies behind all day, while chlorine is fed, and flattens the day's curve, from which level and slope are learnt. And the first
minutes of a day's flow bring what stood in the probes' line, and an electrode that has lived in it: the longer it stood, the
older.
"""

from math import exp, expm1

from dosectl.core.estimate.params import EstimateParams

STILL_TIMES = 4.0  # slower while no pump stirs the pool; own judgement
LEAVES_S = 400.0  # in which old water leaves the line and a starved electrode wakes; own judgement
STANDS_S = 8 * 3600.0  # in which water that stands in the line loses its chlorine; own judgement


def unmixed_after(params: EstimateParams, unmixed_mg_l: float, fed_mg_l: float, still_s: float, flow_s: float) -> float:
    """Chlorine in the water that is not mixed in yet, after a time without flow and then one with it. [mg/L of the pool]

    unmixed_mg_l : before, less what the pool's losses took of it; fed_mg_l : arrived since, evenly
    """
    times = still_s / (STILL_TIMES * params.mixing_s) + flow_s / params.mixing_s
    return max(0.0, unmixed_mg_l * exp(-times) - fed_mg_l * expm1(-times) / times) if times > 0.0 else unmixed_mg_l


def stale_after(params: EstimateParams, stale_mv: float, still_s: float, flow_s: float) -> float:
    """How far a reading may be off by old water, after a time without flow and then one with it. One standard deviation [mV]"""
    stood = stale_mv - (params.orp_stale_mv - stale_mv) * expm1(-still_s / STANDS_S)
    return stood * exp(-flow_s / LEAVES_S)


def worth_s(params: EstimateParams, dt_s: float, stale_mv: float) -> float:
    """The time that a reading of the last `dt_s` stands for: the less, the further old water may put it off.

    It weighs less by that and is refused like any other: excused by its age, where flow comes in short spells, an electrode that
    fell by 80 mV was never found out, and the pool was fed up to four times its chlorine.
    """
    return dt_s / (1.0 + (stale_mv / params.orp_sigma_mv) ** 2)
