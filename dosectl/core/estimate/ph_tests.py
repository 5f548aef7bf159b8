"""Tests of pH and alkalinity: used, kept, and taken back when they turn out to have been slips.

These two stand beside the stored hours, so a withdrawn test can't be left out of a new run of those (`late_tests`). Instead each
test's own step is kept: from the newest back to the withdrawn one the steps are taken off again and the doubt that they removed
comes back (of a Kalman update that is the outer product of gain and root of S, see `filters.correct`); then those that stay are
used anew, as if the withdrawn one had never been. Each by itself, with what later tests left of it, two withdrawn slips of
alkalinity of 150 were 149 at a true 90.
"""

from dataclasses import replace
from math import copysign, sqrt

from dosectl.core.estimate import ph as acidity
from dosectl.core.estimate.chlorine import DAY_S
from dosectl.core.estimate.hours_ph import taken_s
from dosectl.core.estimate.since import alkalinity_of_now, ph_of_now
from dosectl.core.estimate.state import Estimate, Taught
from dosectl.core.estimate.taken_back import keeping
from dosectl.model.water_tests import Quantity, WaterTest

QUANTITIES = (Quantity.PH, Quantity.ALKALINITY)
PH, PH_OFFSET, ALKALINITY = range(3)
_VAR_MOST = (1.0, 0.25, 2500.0)  # of pH, of its probe's offset, of the alkalinity; as in `ph` and `filter`
_VAR_LEAST = 1e-5
SAME_MOMENT_S = 60.0
Steps = tuple[float, ...]


def with_ph_test(est: Estimate, test: WaterTest) -> Estimate:
    """The estimate after a test of pH or alkalinity that is entered just now. Other quantities change nothing."""
    if test.quantity not in QUANTITIES or est.updated_s is None:
        return est
    now = ph_of_now(est, test) if test.quantity is Quantity.PH else alkalinity_of_now(est, test)
    age_days = max(0.0, est.updated_s - test.taken_s) / DAY_S
    said = (now.value, now.sigma, age_days, 0.0)
    return _used(est, Taught(test.request, test.quantity, (), (), None, est.updated_s, said, est.ph_seen_s))


def without_ph_test(est: Estimate, test: WaterTest) -> Estimate:
    """The estimate that never had one test of pH or alkalinity; unchanged where nothing is kept of it."""
    found = next((t for t in est.taught if t.request == test.request and t.quantity in QUANTITIES), None)
    if found is None:
        return est
    alike = [t for t in est.taught if t.quantity is found.quantity]
    since = alike[alike.index(found) :]
    # What the probe reads is the water's, but for the tests since it was last read.
    reads = _stands(est, found.quantity) - sum(_step(t, est.ph_seen_s) for t in since if not _followed(est.ph_seen_s, t))
    doubted = est.doubted
    for taught in reversed(since):
        est = _stepped(est, taught, -1.0)
    gone = {t.request for t in since}
    est = replace(
        est,
        taught=tuple(t for t in est.taught if t.request not in gone),
        doubted=tuple(request for request in doubted if request not in gone),
    )
    est = _reading(est, reads) if _followed(est.ph_seen_s, found) else est
    others = [(found, -_step(found, est.ph_seen_s))]  # how much less than then each has moved what stands
    for taught in since[1:]:
        followed = _followed(est.ph_seen_s, taught)
        if taught.said is None or (followed and taught.until_s is not None):  # of an older record, or nothing is left of it
            est = keeping(_stepped(est, taught, 1.0), taught)
            est = replace(est, doubted=(*est.doubted, taught.request)) if taught.request in doubted else est
            continue
        value, sigma, age_days, stood = taught.said
        stood += sum(by for other, by in others if not _followed(taught.seen_s, other))
        waited_days = 0.0
        if found.quantity is Quantity.PH and not followed and est.updated_s is not None and taught.at_s is not None:
            waited_days = (est.updated_s - taught.at_s) / DAY_S  # nothing tells how far the water has moved
        moved = (reads if followed else _stood(est, taught)) - stood
        est = _used(est, replace(taught, said=(value + moved, sigma, age_days, 0.0)), waited_days)
        others.append((taught, _step(est.taught[-1], est.ph_seen_s) - _step(taught, est.ph_seen_s)))
        est = _reading(est, reads) if followed else est
    return est


def _read_since(seen_s: float | None, taught: Taught) -> bool:
    """Whether the pH probe was read after a test: then what it reads is the water's, whatever the test said."""
    at_s = taught.at_s
    return taught.quantity is Quantity.PH and seen_s is not None and at_s is not None and seen_s > at_s


def _followed(seen_s: float | None, taught: Taught) -> bool:
    """Whether a pH probe was read after a test and after the one that stood beside it was replaced: of that nothing is left."""
    return _read_since(seen_s, taught) and (taught.until_s is None or (seen_s or 0.0) > taught.until_s)


def _reading(est: Estimate, reads: float) -> Estimate:
    """The estimate with as much pH as the probe's offset leaves of what it reads."""
    _, offset, var, both, offset_var = est.ph
    return replace(est, ph=(reads - offset, offset, var, both, offset_var))


def _used(est: Estimate, test: Taught, waited_days: float = 0.0) -> Estimate:
    """The estimate after a test as it was said, and with what it changed kept. It stays the test of its own moment."""
    assert test.said is not None
    value, sigma, age_days, _ = test.said
    if test.quantity is Quantity.PH:
        before = est.ph if test.until_s is None else (*est.ph[:3], 0.0, est.ph[4])  # the offset is another probe's
        ph, believed = acidity.use_test(before, value, sigma, age_days + waited_days)
        after = replace(est, ph=ph)
    else:
        alkalinity, var, believed = acidity.use_alkalinity(
            est.alkalinity_mg_l, est.alkalinity_var, value, sigma, age_days, _older(est, test)
        )
        after = replace(est, alkalinity_mg_l=alkalinity, alkalinity_var=var)
    if not believed:
        after = replace(after, doubted=(*after.doubted, test.request))
    by, freed = _steps(est, after)
    if test.until_s is not None and _read_since(est.ph_seen_s, test):
        # it moves what the offset of that probe moved, see `_by`
        by, freed = (by[PH], -by[PH], by[ALKALINITY]), (freed[PH], abs(freed[PH]), freed[ALKALINITY])
    return keeping(after, replace(test, by=by, freed=freed, said=(value, sigma, age_days, _stood(est, test))))


def _older(est: Estimate, test: Taught) -> bool:
    """Whether a believed test of the same was taken after this one: a laboratory's result comes days later."""
    alike = [t for t in est.taught if t.quantity is test.quantity and t.at_s is not None and t.request not in est.doubted]
    return test.at_s is not None and any(taken_s(t) - taken_s(test) > SAME_MOMENT_S for t in alike)


def _stands(est: Estimate, quantity: Quantity) -> float:
    """What the pH probe should read, or the alkalinity: what moves by itself between two tests."""
    return est.ph[0] + est.ph[1] if quantity is Quantity.PH else est.alkalinity_mg_l


def _stood(est: Estimate, taught: Taught) -> float:
    """What stands for a test: beside a probe that is gone, the water's pH alone."""
    return est.ph[0] if taught.until_s is not None else _stands(est, taught.quantity)


def _step(taught: Taught, seen_s: float | None) -> float:
    value, offset, alkalinity = _by(taught, seen_s)
    return value + offset if taught.quantity is Quantity.PH else alkalinity


def _by(taught: Taught, seen_s: float | None) -> Steps:
    """What a test moved that is still there, the pH probe read last at `seen_s`.

    With its probe the offset ended. The water's pH did not: it is what the test made of it, or what that probe read less that.
    """
    value, offset, alkalinity = taught.by[-3:] or (0.0, 0.0, 0.0)  # an older record has the nine states before these
    if taught.until_s is None:
        return (value, offset, alkalinity)
    if not _read_since(seen_s, taught):
        return (value, 0.0, alkalinity)
    return (-offset if seen_s is not None and seen_s <= taught.until_s else 0.0, 0.0, alkalinity)


def _steps(before: Estimate, after: Estimate) -> tuple[Steps, Steps]:
    by = tuple(new - old for old, new in zip(_values(before), _values(after), strict=True))
    freed = tuple(
        copysign(sqrt(max(0.0, old - new)), step) for old, new, step in zip(_vars(before), _vars(after), by, strict=True)
    )
    return by, freed


def _stepped(est: Estimate, taught: Taught, sign: float) -> Estimate:
    """The estimate with the step of a test taken off (-1), or made once more (1)."""
    if not taught.by:
        return est
    by, freed = _by(taught, est.ph_seen_s), taught.freed[-3:]
    if taught.until_s is not None:
        kept = freed[PH_OFFSET] if _read_since(est.ph_seen_s, taught) else freed[PH]
        freed = (kept if by[PH] else 0.0, 0.0, freed[ALKALINITY])
    value, offset, var, both, offset_var = est.ph
    sums = (
        var - sign * freed[PH] ** 2,
        offset_var - sign * freed[PH_OFFSET] ** 2,
        est.alkalinity_var - sign * freed[ALKALINITY] ** 2,
    )
    var, offset_var, alkalinity_var = (max(_VAR_LEAST, min(v, most)) for v, most in zip(sums, _VAR_MOST, strict=True))
    both -= sign * freed[PH] * freed[PH_OFFSET]
    both = copysign(min(abs(both), 0.99 * sqrt(var * offset_var)), both)
    return replace(
        est,
        ph=(value + sign * by[PH], offset + sign * by[PH_OFFSET], var, both, offset_var),
        alkalinity_mg_l=max(acidity.LEAST_ALKALINITY_MG_L, est.alkalinity_mg_l + sign * by[ALKALINITY]),
        alkalinity_var=alkalinity_var,
    )


def _values(est: Estimate) -> Steps:
    return (est.ph[0], est.ph[1], est.alkalinity_mg_l)


def _vars(est: Estimate) -> Steps:
    return (est.ph[2], est.ph[4], est.alkalinity_var)
