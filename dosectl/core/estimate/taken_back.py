"""What each test changed beside the stored hours, kept so that it can be taken back when it turns out to have been a slip.

A withdrawn test of chlorine or stabiliser is left out of a new run of the stored hours (`late_tests`), and what it counted as is
restored from here. Chlorine of more than those hours ago is another water's. Stabiliser is tested once a month, so of its older
tests the steps are kept: from the newest of them back to the withdrawn one they are taken off now and in all hours, and those
that stay are used anew; where a test of it lies in the hours these are run again. pH and alkalinity keep theirs here too, see
`ph_tests`.
"""

from dataclasses import replace
from math import exp, log, sqrt

from dosectl.core.estimate.chlorine import LIMITS
from dosectl.core.estimate.everywhere import everywhere
from dosectl.core.estimate.filters import Rows, bounded, rows_of, var_of
from dosectl.core.estimate.late_tests import run_again
from dosectl.core.estimate.params import EstimateParams
from dosectl.core.estimate.state import STABILISER, Estimate, Hour, Pour, Taught
from dosectl.core.estimate.water_tests import state_of, use_test
from dosectl.model.requests import RequestId
from dosectl.model.water_tests import Quantity, WaterTest

KEPT = 48  # three a day for the fortnight of the stored hours
OLDER_KEPT = 6  # older ones of each quantity that is tested monthly
MONTHLY = (Quantity.STABILISER, Quantity.ALKALINITY)


def keeping(est: Estimate, taught: Taught) -> Estimate:
    """The estimate with what a test changed kept as the newest."""
    kept = (*(t for t in est.taught if t.request != taught.request), taught)
    of_old = kept[:-KEPT]
    stay = {t.request for quantity in MONTHLY for t in [t for t in of_old if t.quantity is quantity][-OLDER_KEPT:]}
    return replace(est, taught=(*(t for t in of_old if t.request in stay), *kept[-KEPT:]))


def counted(before: Estimate, after: Estimate, test: WaterTest) -> Estimate:
    """`after` with what a test of chlorine or stabiliser changed kept."""
    if test.quantity is Quantity.FREE_CHLORINE:
        believed = after.tested_s != before.tested_s and test.request not in after.doubted
        was = (before.tested_s, before.drift_mv_sqrt_day, before.dead_s) if believed else None
        return keeping(after, Taught(test.request, test.quantity, (), (), was))
    had, has = before.mean[STABILISER], after.mean[STABILISER]
    freed = sqrt(max(0.0, var_of(before.cov, STABILISER) - var_of(after.cov, STABILISER)))
    said = (test.value, test.sigma, 0.0, had)
    return keeping(after, Taught(test.request, test.quantity, (has - had,), (freed,), None, after.updated_s, said))


def poured_on(est: Estimate, pour: Pour) -> tuple[Taught, ...]:
    """What the tests taught, of water into which stabiliser is poured: shares of the stabiliser are smaller ones of more.

    est : before the pour
    """
    if pour.stabiliser_mg_l <= 0.0:
        return est.taught
    level, found = exp(est.mean[STABILISER]), []
    for taught in reversed(est.taught):
        if taught.quantity is not Quantity.STABILISER:
            found.append(taught)
            continue
        step, freed = _step(taught)
        before = level * exp(-step)
        if taught.at_s is not None and taught.at_s > pour.at_s:  # it found what was poured in
            found.append(taught)
            level = before
            continue
        by = log((level + pour.stabiliser_mg_l) / (before + pour.stabiliser_mg_l))
        freed *= before / (before + pour.stabiliser_mg_l)
        said = taught.said
        if said is not None:
            value, sigma, age_days, stood = said
            said = (value + pour.stabiliser_mg_l, sigma, age_days, log(exp(stood) + pour.stabiliser_mg_l))
        found.append(replace(taught, by=(by,), freed=(freed,), said=said))
        level = before
    return tuple(reversed(found))


def without_old_stabiliser(params: EstimateParams, est: Estimate, test: WaterTest, depth_share: float) -> Estimate:
    """The estimate without a test of stabiliser that the stored hours no longer hold; unchanged where nothing is kept of it.

    What hangs on the stabiliser goes with it as far as their errors hang together: the electrode's offset was learnt from
    chlorine tests beside the slip.
    """
    held = {other.request for other in est.tests}
    old = [t for t in est.taught if t.quantity is Quantity.STABILISER and t.request not in held]
    found = next((t for t in old if t.request == test.request), None)
    if found is None:
        return est
    since = old[old.index(found) :]
    begun = est if est.hour is None else (*est.history, est.hour)[0]
    others = {t.request: t for t in _without(list(begun.mean), rows_of(begun.cov), since, test)}
    est = everywhere(est, lambda mean, p: _without(mean, p, since, test))
    est = replace(est, taught=tuple(others.get(t.request, t) for t in est.taught if t is not found))
    inside = tuple(t for t in est.tests if t.taken_s > begun.begins_s) if isinstance(begun, Hour) else ()
    if all(t.quantity is not Quantity.STABILISER for t in inside):
        return est
    return replace(run_again(est, params, depth_share, inside, float("-inf")), tests=est.tests)


def _without(mean: list[float], p: Rows, since: list[Taught], gone: WaterTest) -> list[Taught]:
    """A state without the first of these tests of stabiliser, and with the others used anew, in place. Returns those as used."""
    stands = mean[STABILISER]
    steps = [_step(t) for t in since]
    for step, freed in reversed(steps):
        _moved(mean, p, -step, freed)
    _, shift = state_of(gone.quantity)
    used: list[Taught] = []
    for number, taught in enumerate(since[1:], 1):
        if taught.said is None:  # of an older record
            _moved(mean, p, steps[number][0], 0.0)
            used.append(taught)
            continue
        value, sigma, age_days, stood = taught.said
        thinned = exp(stands - stood - sum(later for later, _ in steps[number:]))
        value = max(0.0, (value + shift) * thinned - shift)
        had, had_var = mean[STABILISER], p[STABILISER][STABILISER]
        use_test(mean, p, replace(gone, request=RequestId(taught.request), value=value, sigma=sigma, withdrawn=False))
        freed = sqrt(max(0.0, had_var - p[STABILISER][STABILISER]))
        used.append(replace(taught, by=(mean[STABILISER] - had,), freed=(freed,), said=(value, sigma, age_days, had)))
    bounded(mean, p, LIMITS)
    return used


def _step(taught: Taught) -> tuple[float, float]:
    """The step of a test of stabiliser and the root of the variance that it removed. (ln) An older record has all nine states."""
    if not taught.by:
        return 0.0, 0.0
    at = STABILISER if len(taught.by) > 1 else 0
    return taught.by[at], taught.freed[at]


def _moved(mean: list[float], p: Rows, step: float, freed: float) -> None:
    """The stabiliser moved by a step, with what hangs on it, and with that much more doubt, in place."""
    along = [row / p[STABILISER][STABILISER] for row in p[STABILISER]]
    for i, share in enumerate(along):
        mean[i] += share * step
        for j, other in enumerate(along):
            p[i][j] += share * other * freed * freed


def without_ph_probe(est: Estimate) -> tuple[Taught, ...]:
    """What the tests taught, but for what they taught of a pH probe that is gone: they are no tests of the new one.

    What stood before each is from now on the water's pH, without that probe's offset, which only tests move.
    """
    offset = est.ph[1]
    newest_first: list[Taught] = []
    for taught in reversed(est.taught):
        if taught.quantity is Quantity.PH and taught.until_s is None:
            offset -= taught.by[-2] if taught.by else 0.0
            said = taught.said and (*taught.said[:3], taught.said[3] - offset)
            taught = replace(taught, until_s=est.updated_s, said=said)
        newest_first.append(taught)
    return tuple(reversed(newest_first))


def without_electrode(est: Estimate) -> tuple[Taught, ...]:
    """What the tests taught, but for the drift of a redox electrode that is gone."""
    return tuple(t if t.counted is None else replace(t, counted=(t.counted[0], None, t.counted[2])) for t in est.taught)
