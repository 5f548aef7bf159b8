"""The pH electrode: millivolts to pH, calibration in two buffers, and whether the electrode is still fit.

E = offset - slope share x Nernst slope x (pH - 7). The offset is the reading at pH 7, where a glass electrode
hardly moves with temperature: at pH 7.5 a temperature 10 K wrong costs 0.017 pH.
"""

from dataclasses import dataclass
from enum import StrEnum

from dosectl.chemistry import ranges
from dosectl.chemistry.electrodes import nernst_slope_mv
from dosectl.chemistry.ranges import Range

ISOPOTENTIAL_PH = 7.0
MILLIVOLTS = Range("electrode potential", -1000.0, 1000.0, "mV")
SHARE = Range("slope", 0.5, 1.2, "of Nernst", "give a share, not percent")


@dataclass(frozen=True, slots=True)
class Calibration:
    """Offset at pH 7 [mV] and slope as a share of the ideal one."""

    offset_mv: float = 0.0
    slope_share: float = 1.0


class Fitness(StrEnum):
    """What a calibration says of the electrode."""

    GOOD = "good"
    WORN = "worn: works, order a new one"
    SPENT = "spent: clean and repeat; if it stays, replace"


def ph_from_mv(mv: float, calibration: Calibration, temp_c: float = 25.0) -> float:
    """pH of a reading, temperature compensated. Not clamped: an absurd pH is the probe judge's to refuse."""
    slope = SHARE.check(calibration.slope_share) * nernst_slope_mv(temp_c)
    return ISOPOTENTIAL_PH - (MILLIVOLTS.check(mv) - calibration.offset_mv) / slope


def mv_from_ph(ph: float, calibration: Calibration, temp_c: float = 25.0) -> float:
    """Reading of an electrode at a pH. [mV]. Inverse of `ph_from_mv`."""
    slope = SHARE.check(calibration.slope_share) * nernst_slope_mv(temp_c)
    return calibration.offset_mv - slope * (ranges.PH.check(ph) - ISOPOTENTIAL_PH)


def calibrate(mv_one: float, ph_one: float, mv_two: float, ph_two: float, temp_c: float = 25.0) -> Calibration:
    """From readings in two buffers, whose pH is that at their temperature (`reference_solutions.buffer_ph`).

    Raises ValueError when the buffers lie less than 1 pH apart, or when the slope is that of no electrode: buffers
    swapped, the same one twice, or a broken glass.
    """
    one, two = ranges.PH.check(ph_one), ranges.PH.check(ph_two)
    if abs(one - two) < 1.0:
        raise ValueError(f"pH buffers = {one:g} and {two:g}: accepted are two that lie at least 1 apart")
    per_ph = (MILLIVOLTS.check(mv_one) - MILLIVOLTS.check(mv_two)) / (two - one)
    share = per_ph / nernst_slope_mv(temp_c)
    if not SHARE.low <= share <= SHARE.high:
        raise ValueError(
            f"slope = {100.0 * share:.0f} % of the ideal: accepted is 50 to 120 %; buffers swapped, used twice, or a broken glass"
        )
    return Calibration(mv_one + per_ph * (one - ISOPOTENTIAL_PH), share)


def judge(calibration: Calibration) -> Fitness:
    """Offset within 30 mV and slope 85-105 % are accepted by a laboratory guide, 95-102 % by a stricter one."""
    offset, share = abs(calibration.offset_mv), calibration.slope_share
    if offset > 30.0 or not 0.85 <= share <= 1.05:
        return Fitness.SPENT
    return Fitness.GOOD if 0.95 <= share <= 1.02 else Fitness.WORN
