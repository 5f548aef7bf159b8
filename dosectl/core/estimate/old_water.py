"""Old water in the probes' line: the first minutes of flow bring what stood there, and an electrode that has lived in it.

The longer it stood, the further it is from the pool's. Such readings stand for less time.
"""

from math import exp, expm1

from dosectl.core.estimate.params import EstimateParams

LEAVES_S = 400.0  # in which old water leaves the line and a starved electrode wakes; own judgement
STANDS_S = 8 * 3600.0  # in which water that stands in the line loses its chlorine; own judgement


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
