"""What was learnt of a state fades, where the same error each day would be taken for proof.

Slope and level of an electrode are told apart by little but the day's swing, and what bends a day's curve (unmixed water, lag, a
running cell, a demand that is not the learnt one) bends each day's alike. Added up as if they were independent, a hundred such
days made the slope creep to twice the true one, the stated doubt small, and the level with it.
"""

from math import exp

from dosectl.core.estimate.filters import Rows, move_row


def fade(mean: list[float], p: Rows, state: int, usual: float, sigma: float, times: float) -> None:
    """A state goes back towards `usual`, its doubt towards `sigma`, through a spell of `times` of its own time, in place.

    First-order Gauss-Markov process (Gelb, Applied Optimal Estimation, 1974, chapter 3, from memory): left alone it ends at
    `usual` with a standard deviation of `sigma`.
    """
    kept = exp(-times)
    mean[state] = usual + kept * (mean[state] - usual)
    move_row(p, state, ((state, kept),))
    p[state][state] += (1.0 - kept * kept) * sigma * sigma
