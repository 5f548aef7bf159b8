"""The trim: simple-pid as a pure function.

Only the integral is kept, in our state. The object is built anew for each due step, with a constant clock of its own and the
time given, so that it reads no clock and nothing of it outlives the call. It holds the integral within the output's limits; a
frozen step (an interlock or limit held the feed) keeps the integral as it was. A number that is not finite never reaches it:
one NaN would stay in it for ever.
"""

from math import isfinite

from simple_pid import PID


def _no_clock() -> float:
    return 0.0


def trim(
    value: float,
    aim: float,
    *,
    per_h: float,
    integral_per_h2: float,
    integral: float,
    limits: tuple[float, float],
    integral_most: float,
    dt_h: float,
    frozen: bool,
) -> tuple[float, float]:
    """Correction of a rate, and the new integral. [mg/L/h] for a value and an aim in mg/L.

    `limits` bound the correction, `integral_most` the size of the integral.
    Frozen: the correction still follows the error, the integral stays. An input that is not
    finite gives no correction but the integral, unchanged.
    """
    low, high = limits
    integral = min(integral_most, max(-integral_most, integral))
    if not (isfinite(value) and isfinite(aim) and isfinite(dt_h)) or dt_h <= 0.0:
        return min(high, max(low, integral)), integral
    pid = PID(
        per_h,
        0.0 if frozen else integral_per_h2,
        0.0,
        setpoint=aim,
        sample_time=None,
        output_limits=limits,
        time_fn=_no_clock,
        starting_output=integral,
    )
    output = pid(value, dt=dt_h)
    assert output is not None
    learnt = integral if frozen else float(pid.components[1])
    return float(output), min(integral_most, max(-integral_most, learnt))
