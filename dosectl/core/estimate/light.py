"""The light that the estimate reckons with: told by a signal where there is one that may be believed, else as it usually is here.

A sensor that died says nothing, by day too. Taken for the sky it took all sun off the plan; kept from the estimate it would still
leave its owner with a signal that nobody looks at, so that its dark daylight is counted.
"""

from dataclasses import replace

from dosectl.core.estimate.state import Estimate, EstimateInputs

FOLLOWS_S = 3 * 86400.0
LEAST_SHARE = 0.03  # of a clear sky's: thick cloud lets more through, a sensor that died does not; from memory, own judgement
BY_DAY_UV = 0.2  # of overhead clear sun, some 15 degrees high: lower, a wall or a hill may shade a sound sensor; own judgement


def believed(inputs: EstimateInputs) -> EstimateInputs:
    """Without a sunlight of next to nothing."""
    dark = inputs.light_share is not None and inputs.light_share < LEAST_SHARE
    return replace(inputs, light_share=None) if dark else inputs


def share(est: Estimate, inputs: EstimateInputs) -> float:
    """Of a clear sky's, now or on this day."""
    return est.light_share if inputs.light_share is None else inputs.light_share


def usual_share(est: Estimate, inputs: EstimateInputs, clear: float) -> float:
    """The mean of what was told by daylight, to go by when it is not told."""
    if inputs.light_share is None or clear <= 0.0:
        return est.light_share
    return est.light_share + inputs.dt_s / (inputs.dt_s + FOLLOWS_S) * (inputs.light_share - est.light_share)


def dark_after_s(est: Estimate, told_share: float | None, clear: float, dt_s: float) -> float:
    """For how long by daylight the signal has said next to nothing, its share being as it came; anything else it says ends it."""
    if told_share is None:
        return est.dark_s
    if told_share >= LEAST_SHARE:
        return 0.0
    return est.dark_s + dt_s if clear >= BY_DAY_UV else est.dark_s
