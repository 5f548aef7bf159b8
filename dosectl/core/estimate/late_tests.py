"""Tests and pours that come late, and tests that are taken back.

The estimate keeps a fortnight of hourly states with each hour's inputs. A late test is applied where it was taken and the
hours since are run again; a withdrawn one is left out of such a run, so that it is as if it had never been. What was poured in
late is put in where it was. Within an hour tests and pours come in the order of their own moments, whichever was typed first; a
test of the very moment of a pour is of the water before, as nothing mixes in within no time. A test older than the history is
applied at its start with a wider doubt. A doubted one waits in these hours for a second that says the same: who tests each week
would else have each test doubted for ever; two weekly tests of 10.7 mg/L were taken for two slips beside a mute electrode, and
the pool was fed on.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace

from dosectl.core.estimate.breaks import across, cross
from dosectl.core.estimate.chlorine import DAY_S, LIMITS, Spell, bloom_over, pour_in, predict
from dosectl.core.estimate.drift import MOVED_MV, misled_by_mv
from dosectl.core.estimate.electrode import forget_what_it_taught, use_orp
from dosectl.core.estimate.filters import Rows, bounded, rows_of, triangle_of
from dosectl.core.estimate.params import EstimateParams
from dosectl.core.estimate.state import Break, Estimate, Hour, Pour
from dosectl.core.estimate.surprise import widen
from dosectl.core.estimate.water_tests import finds_chlorine, state_of, use_test, widened
from dosectl.model.water_tests import Quantity, WaterTest

KEPT_S = 15 * DAY_S  # a weekly test that was forgotten once comes after a fortnight
HOURS_MOST = 600  # of many breaks and pours; the oldest go
LATE_S = 900.0  # younger than this it is of now, if nothing came after it
AGAIN_S = 900.0  # a second sample takes as long; a number typed once more does not
ALIKE, ALIKE_LATER = 0.25, 0.5  # of the second's value; in days the water changes
DOUBTED_KEPT = 24  # beside those of chlorine and stabiliser that wait
Judge = Callable[[WaterTest, list[float], Rows, float | None], EstimateParams]
"""Is told each believed test of chlorine of a new run, with the state before it and when the electrode was last read; returns the
settings from there on."""


def still_doubted(doubted: tuple[str, ...], tests: tuple[WaterTest, ...]) -> tuple[str, ...]:
    """All of those that wait among `tests`, and of the others the last."""
    waiting = {test.request for test in tests}
    last = [request for request in doubted if request not in waiting][-DOUBTED_KEPT:]
    return tuple(request for request in doubted if request in waiting or request in last)


def confirmed(est: Estimate, test: WaterTest) -> bool:
    """Whether a doubted test that the estimate knows confirms this one."""
    return confirmed_by(test, est.tests, est.doubted)


def confirmed_by(test: WaterTest, others: tuple[WaterTest, ...], doubted: tuple[str, ...]) -> bool:
    """A doubted test of the same quantity, at least a quarter of an hour ago, shows within a quarter the same, or days ago within
    a half: two slips alike are unlikely, but the same number typed once more is no second test. What came before a believed test
    is settled by that one."""
    believed = (
        t.taken_s for t in others if t.quantity is test.quantity and t.request not in doubted and t.request != test.request
    )
    settled_s = max((at_s for at_s in believed if at_s < test.taken_s), default=float("-inf"))
    return any(
        other.request in doubted
        and other.request != test.request
        and other.quantity is test.quantity
        and settled_s < other.taken_s <= test.taken_s - AGAIN_S
        and abs(other.value - test.value)
        <= (ALIKE if test.taken_s - other.taken_s <= DAY_S else ALIKE_LATER) * (test.value + state_of(test.quantity)[1])
        for other in others
    )


def moves(pour: Pour, quantity: Quantity) -> bool:
    """Whether a pour changes what a test of this quantity finds."""
    return pour.free_chlorine_mg_l != 0.0 if quantity is Quantity.FREE_CHLORINE else pour.stabiliser_mg_l > 0.0


def past_test(est: Estimate, test: WaterTest) -> bool:
    """Whether a test of chlorine or stabiliser is of other water than that of now: it is old, or one or a pour came after it."""
    if est.updated_s is None or est.updated_s - test.taken_s > LATE_S:
        return est.updated_s is not None
    hours = est.history if est.hour is None else (*est.history, est.hour)
    later = any(t.quantity is test.quantity and t.request != test.request and t.taken_s > test.taken_s for t in est.tests)
    return later or any(p.at_s >= test.taken_s and moves(p, test.quantity) for hour in hours for p in hour.poured)


def past_pour(est: Estimate, pour: Pour) -> bool:
    """Whether a pour went into other water than that of now: it is old, or of an hour before, or a test has seen it."""
    if est.updated_s is None or est.hour is None:
        return False
    tested = any(t.taken_s > pour.at_s and moves(pour, t.quantity) for t in est.tests)
    return tested or est.updated_s - pour.at_s > LATE_S or pour.at_s < est.hour.begins_s


@dataclass(slots=True)
class _Run:
    """What all hours of a new run have in common, see `run_again`. The settings change where a test shows another drift."""

    params: EstimateParams
    depth_share: float
    tests: tuple[WaterTest, ...]
    judge: Judge | None


def run_again(
    est: Estimate,
    params: EstimateParams,
    depth_share: float,
    tests: tuple[WaterTest, ...],
    from_s: float,
    judge: Judge | None = None,
) -> Estimate:
    """The estimate run again from the hour that holds `from_s`, with `tests` instead of the tests it had."""
    if est.hour is None:
        return replace(est, tests=tests)
    run = _Run(params, depth_share, tests, judge)
    hours = [*est.history, est.hour]
    # A test of an hour's last moment is in the state that the next begins with: to leave it out, its own hour is run again.
    first = max((i for i, hour in enumerate(hours) if hour.begins_s < from_s), default=0)
    mean, p = list(hours[first].mean), rows_of(hours[first].cov)
    doubted = tuple(r for r in est.doubted if all(t.request != r or t.taken_s <= hours[first].begins_s for t in est.tests))
    seen_s = _seen_before(est, hours, first)
    over = False  # a test of an hour before has ended what stood dead
    was_dead_s = 0.0
    for index in range(first, len(hours)):
        hour = hours[index]
        over = over and hour.dead_s <= was_dead_s  # where it rises again the water has died once more
        was_dead_s = hour.dead_s
        if index > first and hour.broken is not None:
            cross(mean, p, run.params, depth_share, hour.broken, hours[index - 1])
        hour = hours[index] = replace(hour, mean=tuple(mean), cov=triangle_of(p))
        if over:
            hour = hours[index] = replace(hour, dead_s=0.0)
        end_s = float("inf") if index + 1 == len(hours) else hours[index + 1].begins_s
        begin_s = hour.begins_s if index > first or first > 0 else float("-inf")
        inside = tuple(test for test in tests if begin_s < test.taken_s <= end_s)
        doubted, seen_s = _run_hour(mean, p, run, hour, inside, doubted, seen_s)
        over = over or any(finds_chlorine(test) and test.request not in doubted for test in inside)
    return replace(
        est, mean=tuple(mean), cov=triangle_of(p), history=tuple(hours[:-1]), hour=hours[-1], tests=tests, doubted=doubted
    )


def _seen_before(est: Estimate, hours: list[Hour], first: int) -> float | None:
    """When the electrode was last read before an hour; of the time before all hours it is only known that it was read."""
    read = [hour for hour in hours[:first] if hour.orp_s > 0.0]
    if read:
        return read[-1].start_s + read[-1].span_s
    return None if est.orp_seen_s is None else min(est.orp_seen_s, hours[first].begins_s)


def _run_hour(
    mean: list[float],
    p: Rows,
    run: _Run,
    hour: Hour,
    inside: tuple[WaterTest, ...],
    doubted: tuple[str, ...],
    seen_s: float | None,
) -> tuple[tuple[str, ...], float | None]:
    """One stored hour with the tests and pours `inside` at their places, in place.

    Returns the doubted ones, and when the electrode was last believed.
    """
    params, depth_share = run.params, run.depth_share
    done_s = 0.0
    bounded(mean, p, LIMITS)
    mixed = any(pour.at_s > hour.start_s for pour in hour.poured)
    events: list[WaterTest | Pour] = [*inside, *hour.poured]
    for event in sorted(events, key=_moment):
        at_s = min(hour.span_s, max(done_s, _moment(event)[0] - hour.start_s))
        _spend(mean, p, params, depth_share, hour, at_s - done_s)
        done_s = at_s
        if isinstance(event, Pour):
            pour_in(mean, p, event)
            continue
        early_days = max(0.0, hour.start_s - event.taken_s) / DAY_S
        of_chlorine = event.quantity is Quantity.FREE_CHLORINE
        before = (list(mean), [list(row) for row in p]) if of_chlorine and run.judge is not None else None
        misled = of_chlorine and misled_by_mv(mean, seen_s, event) >= MOVED_MV
        believed = use_test(mean, p, widened(event, early_days), confirmed_by(event, run.tests, doubted))
        if not believed:
            doubted = (*doubted, event.request)
        elif misled:
            forget_what_it_taught(mean, p, params)
        if believed and before is not None and run.judge is not None:
            params = run.params = run.judge(event, *before, seen_s)
        if believed and hour.dead_s > 0.0 and finds_chlorine(event):
            bloom_over(mean, p, params)
            hour = replace(hour, dead_s=0.0)
        bounded(mean, p, LIMITS)
    _spend(mean, p, params, depth_share, hour, hour.span_s - done_s)
    if hour.off_s > 0.0:
        across(mean, p, params, depth_share, Break(hour.off_s, hour.uv_s / max(1.0, hour.span_s)), hour.temp_c, hour.ph)
    # The mean of an hour's readings, some from before a pour and some from after it, is of neither water.
    if hour.orp_s > 0.0 and not mixed:
        orp_mv = hour.orp_mv_s / hour.orp_s
        believed, _, _ = use_orp(mean, p, params, orp_mv, hour.ph, params.ph_sigma, hour.orp_s, 0.0, hour.dead_s)
        seen_s = hour.start_s + hour.span_s if believed else seen_s
    return doubted, seen_s


def _moment(event: WaterTest | Pour) -> tuple[float, bool]:
    """The key of the order: by time, a test before a pour."""
    return (event.at_s, True) if isinstance(event, Pour) else (event.taken_s, False)


def _spend(mean: list[float], p: Rows, params: EstimateParams, depth_share: float, hour: Hour, dt_s: float) -> None:
    if dt_s <= 0.0 or hour.span_s <= 0.0:
        return
    share = dt_s / hour.span_s
    spell = Spell(dt_s, hour.uv_s / hour.span_s, hour.chlorine_mg_l * share, hour.temp_c, hour.ph, hour.dead_s)
    predict(mean, p, params, spell, depth_share)
    widen(p, hour.yielded, share)
