"""Tests of chlorine and stabiliser: how much of one to believe, and what it does to the estimate.

Five explanations are held against each other: it is as good as its method; it is good and the model is wrong (someone dosed by
hand, a party, a bag of stabiliser); a decimal point slipped; it is the pH; or it is of another water altogether. What the last
three explain better is applied with a doubt so wide that it hardly moves anything, and the request is named so that a person can
look again.
"""

from dataclasses import replace
from math import exp, log, pi, sqrt

from dosectl.core.estimate.chlorine import CYA_SHIFT_MG_L, HELD_MG_L
from dosectl.core.estimate.filters import Rows, correct
from dosectl.core.estimate.state import CHLORINE, OFFSET, STABILISER
from dosectl.model.water_tests import Quantity, WaterTest

# Before looking: how often each happens. Own judgement; every few dozen hand-typed tests hold a slip.
P_SURPRISE = 0.05
P_LOST = 0.03  # chlorine alone: unnoticed it all went: a dead feeder, a bloom, a stuck probe; stabiliser goes with the water
P_TENFOLD = 0.01
P_OTHER = 0.01
P_PH = 0.005  # the other figure of the kit, typed in the chlorine's place
PH_FIGURES = (6.8, 8.2)  # what a kit's pH test can show; common practice
DOUBTED_MIN = 1000.0  # on the variance of a doubted test: half believed would be believed all the same
SURPRISE_LOG_SIGMA = 0.6
SURPRISE_ORP_MV = 30.0
_LOG_SPAN = 7.8  # ln(50 / 0.02): a wrong value may lie anywhere in this
_SMALL_MG_L = 0.1
NOTHING_MG_L = 0.2  # no more is next to nothing, one or two drops of a kit: a pool that runs empty is likelier than a slip


def state_of(quantity: Quantity) -> tuple[int, float]:
    """The state a test of this quantity is of, and the shift in its logarithm."""
    return (CHLORINE, 0.0) if quantity is Quantity.FREE_CHLORINE else (STABILISER, CYA_SHIFT_MG_L)


def finds_chlorine(test: WaterTest) -> bool:
    """Whether the water it was taken from holds chlorine: what stood dead before stands dead no more."""
    return test.quantity is Quantity.FREE_CHLORINE and test.value >= 0.5 * HELD_MG_L


def widened(test: WaterTest, age_days: float) -> WaterTest:
    """The test as evidence of the water `age_days` later: wider, by half a mg/L of chlorine or 2 % of stabiliser per root day."""
    per_root_day = 0.5 if test.quantity is Quantity.FREE_CHLORINE else 0.02 * test.value
    return replace(test, sigma=sqrt(test.sigma**2 + per_root_day**2 * max(0.0, age_days)))


def use_test(mean: list[float], p: Rows, test: WaterTest, confirmed: bool = False) -> bool:
    """Applies one test, in place. False where it is mostly doubted. `confirmed`: a like value was doubted shortly before."""
    state, shift = state_of(test.quantity)
    if not 0.0 <= test.value <= 500.0:
        return False
    sigma = _sigma(test, shift, test.value)
    surprised, doubt = _weigh(mean[state], p[state][state], shift, test)
    if confirmed:
        surprised, doubt = True, 1.0
    if surprised:
        p[state][state] += SURPRISE_LOG_SIGMA**2
        if state == CHLORINE:
            p[OFFSET][OFFSET] += SURPRISE_ORP_MV**2
    _apply(mean, p, state, shift, test.value, sigma * sigma * doubt)
    return doubt < 2.0


def _sigma(test: WaterTest, shift: float, shown: float) -> float:
    """The error of a test that really showed `shown`: a slip of the pen does not change how well the drops were counted."""
    return sqrt(max(test.sigma, 0.05 if shift == 0.0 else 2.0) ** 2 + (0.04 * shown) ** 2)


def _weigh(x: float, var: float, shift: float, test: WaterTest) -> tuple[bool, float]:
    """Whether the model must give way, and the factor on the test's variance (1 where it is believed)."""
    value = test.value
    level = exp(x)
    here = log(level + _SMALL_MG_L)
    slope = level / (level + _SMALL_MG_L)

    def relative(shown: float) -> float:
        return _sigma(test, shift, shown) / (shown + shift + _SMALL_MG_L)

    believed = relative(max(0.0, level - shift))

    def likely(shown: float, extra: float) -> float:
        # Neither a slip nor a small figure is an excuse for a wide miss: the finest of the figures says how well it must hit.
        s2 = slope * slope * var + min(relative(shown), relative(value), believed) ** 2 + extra
        return exp(-0.5 * (log(shown + shift + _SMALL_MG_L) - here) ** 2 / s2) / sqrt(2.0 * pi * s2)

    good = (1.0 - P_SURPRISE - P_LOST - 2.0 * P_TENFOLD - P_OTHER) * likely(value, 0.0)
    surprise = P_SURPRISE * likely(value, SURPRISE_LOG_SIGMA**2)
    if shift == 0.0 and value < level:
        surprise += P_LOST / _LOG_SPAN
    tenfold = likely(value / 10.0, 0.0) + (likely(value * 10.0, 0.0) if shift > 0.0 or value > NOTHING_MG_L else 0.0)
    slip = P_TENFOLD * tenfold + P_OTHER / _LOG_SPAN
    if shift == 0.0 and PH_FIGURES[0] <= value <= PH_FIGURES[1]:
        slip += P_PH * (value + _SMALL_MG_L) / (PH_FIGURES[1] - PH_FIGURES[0])
    belief = (good + surprise) / (good + surprise + slip)
    return surprise > good and belief >= 0.5, 1.0 if belief >= 0.5 else DOUBTED_MIN


def _apply(mean: list[float], p: Rows, state: int, shift: float, value: float, noise: float) -> None:
    """An iterated update: the most likely state is found first, because a logarithm far off is no straight line."""
    x0, var = mean[state], p[state][state]
    x = x0
    for _ in range(20):
        level = exp(x)
        step = ((x - x0) / var - (value + shift - level) * level / noise) / (1.0 / var + level * level / noise)
        x -= max(-0.7, min(0.7, step))
        if abs(step) < 1e-6:
            break
    level = exp(x)
    correct(mean, p, ((state, level),), value + shift - level - level * (x0 - x), noise)
