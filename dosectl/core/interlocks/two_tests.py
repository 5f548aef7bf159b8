"""Two hand tests of free chlorine, each with what the probes showed beside it: what of one the other explains.

What tests claim is turned into the least change of an ORP, with both errors on the test's side: a fall in decades at the slope of
a weak living electrode, a rise at that of a strong one. What the ORP lies above that is what nothing explains, and an electrode's
wander and drift are left out of it.
"""

from math import hypot, log10

from dosectl.model.water_tests import Beside, Settled, WaterTest

DAY_S = 86400.0
REFERENCE_S = 14 * DAY_S  # so old may a test be for another to be set against it: an electrode drifts and fouls
WEAK_MV = 20.0  # mV a decade of free chlorine; engineering judgement: two thirds of the 29.6 in theory
THEORY_MV = 29.6  # a decade, and a pH, at 25 degC: HOCl + H+ + 2e = Cl- + H2O
STRONG_MV = 60.0  # engineering judgement: twice that, as one electron less and stabiliser that is used up make of it
APART_MV = 15.0  # engineering judgement: five of an electrode's wander of 3 mV
CHECKED_MV = 15.0  # what wiping and a standard change in a redox electrode; engineering judgement
DRIFT_MV_DAY = 0.3  # common practice: some mV in a fortnight
LEAST_MG_L = 0.1  # below it a test can't tell how little
FOLLOWS_MV = 3.0  # an electrode's wander: less is no move of the water; engineering judgement
SURE = 1.0  # standard deviations, of each of the two tests and both to the test's side
SAME_S = 2 * DAY_S  # as near must a second method's test lie, so that both are of like water
AGREE_SIGMAS = 2.0
BLEACHING = frozenset({"colour", "photometer"})  # one chemistry, one way to fail; common practice: DPD by colour bleaches
OVER_SHARE = 0.5  # of what begins it: it ends, and a test opens a limit, only below that, or small steps would add up

Pair = tuple[WaterTest, Beside]


def over_mv(before: Pair, after: Pair, sure: float = SURE) -> float:
    """How far the ORP lies above what the claims of the two tests explain at most, an electrode's drift left out. [mV]"""
    (old, old_beside), (new, new_beside) = before, after
    had, has = max(LEAST_MG_L, old.value), max(LEAST_MG_L, new.value)
    decades = log10(has / had)
    by_error = log10(max(has, new.value + sure * new.sigma) / has * had / max(LEAST_MG_L, old.value - sure * old.sigma))
    slope_mv, error_mv = (WEAK_MV, WEAK_MV) if decades < 0.0 else (STRONG_MV, THEORY_MV)
    return rose_mv(old_beside, new_beside) - slope_mv * decades - error_mv * by_error


def short_mv(before: Pair, after: Pair) -> float:
    """How far the ORP lies below what the claims of the two tests ask for at least: a slip upwards. [mV]"""
    (old, old_beside), (new, new_beside) = before, after
    least, most = max(LEAST_MG_L, new.value - SURE * new.sigma), max(LEAST_MG_L, old.value + SURE * old.sigma)
    decades = log10(least / most)
    return (STRONG_MV if decades < 0.0 else WEAK_MV) * decades - rose_mv(old_beside, new_beside)


def rose_mv(before: Beside | Settled, after: Beside | Settled) -> float:
    """How far the ORP rose, at the same pH. [mV]"""
    return after.orp_mv - before.orp_mv + THEORY_MV * (after.ph - before.ph)


def allowed_mv(before: Beside, after: Beside) -> float:
    """What an electrode may wander and drift between the two. [mV]"""
    return APART_MV + DRIFT_MV_DAY * min(REFERENCE_S, abs(after.at_s - before.at_s)) / DAY_S


def checked_mv(before: Beside, checked_s: float | None) -> float:
    """What a check of the electrode may have moved since something was read. [mV]

    Whoever checks it wipes it too, and that lifts what it reads: so much more is allowed to a test that ends a contradiction, or
    opens a limit. But it is the same electrode: while a check made all of before forgotten, as a new one does, a kit that reads
    nothing took a pool to 13 mg/L. Nor is it allowed to what begins one: a kit that reads 1.0 took that pool to 11.7 mg/L so.
    """
    return CHECKED_MV if checked_s is not None and checked_s > before.at_s else 0.0


def excess_mv(before: Pair, after: Pair) -> float:
    return over_mv(before, after) - allowed_mv(before[1], after[1])


def half_mv(before: Beside, after: Beside) -> float:
    """What is allowed to a test that ends a contradiction, opens a limit, or is too much: half of wander and drift, all of a
    check. [mV]"""
    return OVER_SHARE * allowed_mv(before, after) + checked_mv(before, after.checked_s)


def follows(before: Pair, after: Pair) -> bool:
    """Whether two tests of one chemistry surely differ, and the ORP went the same way by as much as they claim.

    What is spoiled says the same whatever the water does, and one bleached by strong chlorine goes against it. What such a kit
    says between nothing and a trace is no course, and what an electrode wanders and drifts between the two is none either.
    """
    (old, old_beside), (new, new_beside) = before, after
    low, high = (old, new) if new.value > old.value else (new, old)
    lowest, highest = low.value - SURE * low.sigma, high.value + SURE * high.sigma
    if chemistry(old.method) != chemistry(new.method) or lowest < LEAST_MG_L:
        return False
    least = log10(max(LEAST_MG_L, high.value - SURE * high.sigma) / (low.value + SURE * low.sigma))
    moved_mv = rose_mv(old_beside, new_beside) if high is new else rose_mv(new_beside, old_beside)
    wander_mv = FOLLOWS_MV + DRIFT_MV_DAY * abs(new_beside.at_s - old_beside.at_s) / DAY_S
    return least > 0.0 and max(wander_mv, WEAK_MV * least) <= moved_mv <= wander_mv + STRONG_MV * log10(highest / lowest)


def another_method(test: WaterTest, refused: list[Pair]) -> bool:
    """Whether a refused test of a different chemistry, not long before, shows the same."""
    return any(
        chemistry(test.method) != chemistry(other.method) and test.taken_s - other.taken_s <= SAME_S and agree(test, other)
        for other, _ in refused
    )


def agree(one: WaterTest, other: WaterTest) -> bool:
    return abs(one.value - other.value) <= AGREE_SIGMAS * hypot(one.sigma, other.sigma)


def chemistry(method: str) -> str:
    return "colour" if method in BLEACHING else method
