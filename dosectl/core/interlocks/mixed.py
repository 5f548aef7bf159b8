"""How long a feed goes on mixing in after its end.

A feed of a slow pump lasts half an hour, and what went in first has come to the probe before its end: on average it is half its
length older than that, so that much of the wait has passed. At the next feed hardly more of it is unseen than of a short one
after the whole wait: within 3 % of its mass where it mixes in like into a stirred vessel, with times of 2 to 60 minutes; water
that is ten minutes on its way before that hides up to a tenth more. Counted from the end alone, a pump that is no larger than it
should be spent half of a hot day waiting, and its pool died.
"""

LEAST_S = 600.0  # engineering judgement: until the last of it comes to the probe


def wait_after_s(wait_s: float, run_s: float) -> float:
    """Of flow, from the end of an even feed that lasted `run_s` of flow, where a short one asks for `wait_s`. [s]"""
    return min(wait_s, max(LEAST_S, wait_s - 0.5 * run_s))
