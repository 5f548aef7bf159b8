"""Hours are run again through what lies between them: time off, and an electrode that is not the one it was."""

import json
from collections.abc import Callable
from dataclasses import replace

import pytest

from dosectl.chemistry import decay
from dosectl.core.estimate.breaks import with_break
from dosectl.core.estimate.filters import var_of
from dosectl.core.estimate.late_tests import HOURS_MOST, KEPT_S, run_again
from dosectl.core.estimate.new_probe import with_new_probes
from dosectl.core.estimate.state import CHLORINE, DEMAND, OFFSET, Break, Electrode, Estimate, Taught
from dosectl.model.signals import SignalKind
from dosectl.model.water_tests import Quantity
from dosectl.store.durable import PartCodec
from tests.estimate.test_estimate import PARAMS, PLANT, Watched, hand_test, pool_after_a_test

ORP, NONE = frozenset({SignalKind.ORP}), frozenset[SignalKind]()


def _checked(watched: Watched) -> None:
    watched.estimate = with_new_probes(watched.estimate, PARAMS, NONE, ORP)


def _replaced(watched: Watched) -> None:
    watched.orp_shift_mv += 30.0
    watched.estimate = with_new_probes(watched.estimate, PARAMS, ORP, NONE)


def _off(watched: Watched) -> None:
    watched.pool.now_s += 6 * 3600.0


def _moved(watched: Watched) -> None:
    watched.orp_shift_mv -= 160.0
    watched.run(12.0)
    assert watched.estimate.hour is not None
    assert any(
        h.broken is not None and h.broken.electrode is Electrode.MOVED for h in (*watched.estimate.history, watched.estimate.hour)
    )


BREAKS = [_checked, _replaced, _off, _moved]


@pytest.mark.parametrize("breaks", BREAKS)
def test_run_again_with_the_same_tests_the_hours_end_where_they_ended(breaks: Callable[[Watched], None]) -> None:
    watched = pool_after_a_test()
    watched.run(24.0)
    breaks(watched)
    watched.run(24.0)
    est = watched.estimate
    share = decay.depth_factor(PLANT.pool.depth_m, PARAMS.light_attenuation_per_m)
    again = run_again(est, PARAMS, share, est.tests, est.history[20].start_s)
    assert again.mean[CHLORINE] == pytest.approx(est.mean[CHLORINE], abs=0.1)
    assert again.mean[OFFSET] == pytest.approx(est.mean[OFFSET], abs=4.0)
    for state in (CHLORINE, OFFSET):
        assert var_of(again.cov, state) == pytest.approx(var_of(est.cov, state), rel=0.35)


@pytest.mark.parametrize("breaks", BREAKS)
def test_a_late_test_from_before_is_believed_and_no_old_electrode_comes_back(breaks: Callable[[Watched], None]) -> None:
    watched = pool_after_a_test()
    watched.run(24.0)
    late = hand_test(watched.pool, Quantity.FREE_CHLORINE, watched.pool.free_mg_l, 0.1, "late")
    breaks(watched)
    watched.run(4.0)
    offset_mv = watched.estimate.mean[OFFSET]
    watched.step(late)
    assert "late" not in watched.estimate.doubted
    assert watched.view.free_chlorine_mg_l == pytest.approx(watched.pool.free_mg_l, rel=0.3)
    assert watched.estimate.mean[OFFSET] == pytest.approx(offset_mv, abs=12.0)


def test_a_test_taken_while_it_was_off_is_of_that_water() -> None:
    """It stands at the end of the time off, wider by what it is older: the losses of that time are not taken from it."""
    watched = pool_after_a_test()
    watched.run(24.0)
    watched.pool.now_s += 12 * 3600.0
    taken_s = watched.pool.now_s - 3600.0
    watched.run(2.0)
    before = watched.view
    test = hand_test(watched.pool, Quantity.FREE_CHLORINE, 2.6, 0.1, "in the dark")
    watched.step(replace(test, taken_s=taken_s))
    assert "in the dark" not in watched.estimate.doubted
    assert watched.view.free_chlorine_mg_l == pytest.approx(2.4, abs=0.3)
    assert watched.view.sigma_mg_l < before.sigma_mg_l


def test_hours_and_tests_are_kept_for_a_fortnight_and_no_longer() -> None:
    watched = pool_after_a_test()
    named = watched.estimate.tests[0].request
    watched.run(24.0 * 14.0)
    assert named in {test.request for test in watched.estimate.tests}
    watched.run(24.0 * 2.0)
    assert watched.estimate.tests == ()
    oldest = watched.estimate.history[0]
    assert watched.pool.now_s - oldest.start_s < KEPT_S + 2 * 3600.0
    watched.pool.now_s += KEPT_S
    watched.run(2.0)
    assert len(watched.estimate.history) < 3


def test_many_breaks_do_not_make_the_record_grow() -> None:
    watched = pool_after_a_test()
    for _ in range(HOURS_MOST + 50):
        _checked(watched)
        watched.step()
    watched.run(2.0)
    assert len(watched.estimate.history) <= HOURS_MOST


def test_the_record_of_an_estimate_goes_through_the_journal_whole() -> None:
    watched = pool_after_a_test()
    watched.run(5.0)
    _checked(watched)
    watched.run(2.0)
    _off(watched)
    watched.run(2.0)
    codec = PartCodec[Estimate](Estimate)
    assert codec.decode(codec.encode(watched.estimate)) == watched.estimate


def test_a_record_of_before_hours_knew_of_breaks_is_read() -> None:
    """Its hours lack what came later, and what it kept for tests is not refused: nothing would be fed after an upgrade."""
    est = replace(pool_after_a_test().estimate, history=())
    codec = PartCodec[Estimate](Estimate)
    (record,) = json.loads(codec.encode(est))
    for later in ("broken", "yielded", "off_s"):
        del record["hour"][later]
    record["unsettled"] = record["tests"]
    for taught in record["taught"]:
        taught["at_s"], taught["by"], taught["freed"] = 120.0, [0.1] * 12, [0.1] * 12
    read = codec.decode(json.dumps([record]).encode())
    assert read.hour == est.hour
    assert read.taught
    assert read.tests == est.tests


def test_short_cuts_are_lived_through_once_more() -> None:
    """25 minutes in each hour were no time at all in hours that were run again: the demand doubled."""
    watched = pool_after_a_test()
    for _ in range(48):
        watched.run(0.6)
        watched.pool.now_s += 1500.0
    est = watched.estimate
    share = decay.depth_factor(PLANT.pool.depth_m, PARAMS.light_attenuation_per_m)
    again = run_again(est, PARAMS, share, est.tests, est.history[1].start_s)
    assert again.mean[CHLORINE] == pytest.approx(est.mean[CHLORINE], abs=0.1)
    assert again.mean[DEMAND] == pytest.approx(est.mean[DEMAND], abs=0.15)


def test_readings_that_were_refused_for_hours_are_not_believed_in_a_new_run() -> None:
    watched = pool_after_a_test()
    watched.run(24.0)
    late = hand_test(watched.pool, Quantity.STABILISER, watched.view.cya_mg_l, 3.0, "late")
    _moved(watched)
    before = [h for h in watched.estimate.history if h.start_s > late.taken_s + 3600.0][:4]
    assert sum(hour.orp_s for hour in before) == 0.0
    watched.step(late)
    assert watched.view.low95_mg_l < watched.pool.free_mg_l < watched.view.high95_mg_l


def test_an_electrode_that_moved_leaves_doubt_of_the_chlorine() -> None:
    est = pool_after_a_test().estimate
    after = with_break(est, PARAMS, Break(electrode=Electrode.MOVED))
    assert var_of(after.cov, CHLORINE) == pytest.approx(var_of(est.cov, CHLORINE) + 0.04)


def test_a_slip_of_ph_in_such_a_record_is_taken_back() -> None:
    """It kept the steps of the nine states before those of pH, its offset and alkalinity."""
    watched = pool_after_a_test(5)
    slip = hand_test(watched.pool, Quantity.PH, 8.2, 0.15, "slip")
    before = watched.view.ph
    watched.step(slip)
    assert watched.view.ph - before > 0.1

    def older(taught: Taught) -> Taught:
        return replace(taught, by=(*(0.0,) * 9, *taught.by), freed=(*(0.0,) * 9, *taught.freed)) if taught.by else taught

    watched.estimate = replace(watched.estimate, taught=tuple(older(t) for t in watched.estimate.taught))
    watched.step(replace(slip, withdrawn=True))
    assert watched.view.ph == pytest.approx(before, abs=0.02)
