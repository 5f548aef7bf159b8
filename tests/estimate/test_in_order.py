"""Water is tested, then something is poured in, or the other way round: whichever is typed first, and however late, each counts
where it was. What is true is counted by hand: what the test found, what was poured in after it, and the little that is lost."""

import re
from dataclasses import replace
from itertools import pairwise
from math import log10

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from dosectl.chemistry.chlorine import hocl_mg_l
from dosectl.core.estimate.begin import start
from dosectl.core.estimate.filter import update
from dosectl.core.estimate.params import EstimateParams
from dosectl.core.estimate.state import Estimate, EstimateInputs
from dosectl.core.estimate.view import water
from dosectl.core.requests.changes import HandAddition
from dosectl.model.requests import RequestId
from dosectl.model.signals import SignalKind
from dosectl.model.water_tests import Quantity, WaterTest
from dosectl.store.durable import PartCodec
from tests.requests.asking import SITE, UTC_NOW

PARAMS = EstimateParams()
MINUTE_S = 60.0
MOST_LOST_MG_L_H = 0.1  # 2.4 mg/L a day, more than this pool of a few mg/L loses at the rate that an estimate begins with
Entry = WaterTest | HandAddition
News = dict[int, tuple[Entry, ...]]


def pour(at_min: float, mg_l: float, cya_mg_l: float = 0.0) -> HandAddition:
    return HandAddition(RequestId("p"), MINUTE_S * at_min, "anna", "hypochlorite", mg_l, 0.0, cya_mg_l)


def a_test(taken_min: float, value: float, quantity: Quantity = Quantity.FREE_CHLORINE, sigma: float = 0.2) -> WaterTest:
    taken_s = MINUTE_S * taken_min
    name = RequestId(f"{quantity}-{taken_min}")
    return WaterTest(name, quantity, value, sigma, "drops", UTC_NOW, taken_s, taken_s, "anna")


def typed(
    entries: dict[int, tuple[Entry, ...]], until_min: int, est: Estimate | None = None, orp_mv: float | None = None
) -> Estimate:
    """A pool watched each minute to `until_min`, with what is typed in at each."""
    est = start(SITE, PARAMS, clock_s=0.0) if est is None else est
    for minute in range(round((est.updated_s or 0.0) / MINUTE_S) + 1, until_min + 1):
        news = entries.get(minute, ())
        tests = tuple(entry for entry in news if isinstance(entry, WaterTest))
        poured = tuple(entry for entry in news if isinstance(entry, HandAddition))
        flow_s = 0.0 if orp_mv is None else 3600.0
        clock_s = MINUTE_S * minute
        now = EstimateInputs(
            clock_s, UTC_NOW, MINUTE_S, orp_mv, None, 0.05, 25.0, flow_s, (), tests, None, poured, light_share=0.0
        )  # fmt: skip
        est = update(SITE, PARAMS, est, now)
    return est


def free(est: Estimate) -> float:
    return water(SITE, est).free_chlorine_mg_l


@pytest.mark.parametrize("wait_min", [4, 6, 14, 16, 60, 150])
@pytest.mark.parametrize("first", ["test", "pour", "both"])
def test_a_test_and_what_was_poured_in_after_it_are_both_counted(wait_min: int, first: str) -> None:
    """1.2 found, 2.0 poured in two minutes later, typed in either order: 1.44 was believed at 3.29."""
    found, poured = a_test(330, 1.2), pour(332, 2.0)
    one, other = (found, poured) if first == "test" else (poured, found)
    at = 330 + wait_min
    entries: News = {at: (one, other)} if first == "both" else {at: (one,), at + 1: (other,)}
    view = water(SITE, typed(entries, at + 1))
    true = 3.2 - MOST_LOST_MG_L_H * wait_min / 60.0
    assert true - 0.35 < view.free_chlorine_mg_l < 3.2 + 0.35
    assert view.low95_mg_l < true
    assert view.high95_mg_l > 3.2


@pytest.mark.parametrize("wait_min", [11, 13, 20, 60, 150])
def test_what_was_poured_in_before_a_test_is_not_counted_on_top_of_it(wait_min: int) -> None:
    """2.0 poured in, 3.2 found ten minutes later and typed at once, then the pour with its true time: 4.6 was believed."""
    at = 330 + wait_min
    est = typed({340: (a_test(340, 3.2),), at: (pour(330, 2.0),)}, at)
    assert 3.2 - 0.35 - MOST_LOST_MG_L_H * wait_min / 60.0 < free(est) < 3.2 + 0.35


@pytest.mark.parametrize("wait_min", [0, 5, 40])
def test_a_test_of_the_very_moment_of_a_pour_is_of_the_water_before(wait_min: int) -> None:
    """Nothing mixes in within no time."""
    entries: News = {300 + wait_min: (pour(300, 2.0), a_test(300, 1.2))}
    assert free(typed(entries, 300 + wait_min)) == pytest.approx(3.2, abs=0.35)


def test_a_late_pour_stays_when_the_running_hour_goes_on() -> None:
    est = typed({320: (pour(302, 2.0),)}, 330)
    before = free(est)
    slip = a_test(331, 9.0)
    est = typed({331: (slip,), 335: (replace(slip, withdrawn=True),)}, 335, est)
    assert free(est) == pytest.approx(before, abs=0.1)


@pytest.mark.parametrize(("first", "second"), [(300, 310), (310, 300)])
def test_of_two_tests_typed_minutes_apart_the_later_one_is_of_now(first: int, second: int) -> None:
    """1.2 and ten minutes later 4.0, for somebody poured in what nobody entered."""
    tests = {300: a_test(300, 1.2), 310: a_test(310, 4.0)}
    assert free(typed({311: (tests[first],), 312: (tests[second],)}, 312)) == pytest.approx(4.0, abs=0.7)


STABILISER = Quantity.STABILISER


@pytest.mark.parametrize("in_time", [True, False])
def test_stabiliser_poured_in_after_a_test_outlives_any_late_test(in_time: bool) -> None:
    """20 found, 40 put in, then the chlorine of before both typed in: 30 was believed at 60."""
    pour_at = 420 if in_time else 500
    entries = {300: (a_test(300, 20.0, STABILISER, 4.0),), pour_at: (pour(420, 0.0, 40.0),)}
    est = typed(entries, 600)
    before = water(SITE, est).cya_mg_l
    assert before == pytest.approx(60.0, abs=8.0)
    after = water(SITE, typed({601: (a_test(270, free(est)),)}, 601, est))
    assert after.cya_mg_l == pytest.approx(before, abs=2.0)


@pytest.mark.parametrize("wait_min", [10, 180])
def test_a_late_test_of_stabiliser_is_of_the_water_before_what_was_put_in(wait_min: int) -> None:
    est = typed({302: (pour(302, 0.0, 40.0),), 300 + wait_min: (a_test(300, 20.0, STABILISER, 4.0),)}, 300 + wait_min)
    assert water(SITE, est).cya_mg_l == pytest.approx(60.0, abs=8.0)


def test_a_withdrawn_test_of_stabiliser_takes_nothing_along_that_was_put_in_later() -> None:
    slip = a_test(300, 90.0, STABILISER, 4.0)
    clean = typed({420: (pour(420, 0.0, 40.0),)}, 600)
    sorry = typed({300: (slip,), 420: (pour(420, 0.0, 40.0),), 600: (replace(slip, withdrawn=True),)}, 600)
    assert water(SITE, sorry).cya_mg_l == pytest.approx(water(SITE, clean).cya_mg_l, abs=1.0)


@given(
    st.lists(st.tuples(st.integers(0, 240), st.integers(0, 200), st.booleans()), min_size=2, max_size=6, unique_by=lambda e: e[0])
)
@settings(max_examples=25, deadline=None)
def test_when_each_is_typed_makes_no_difference(moments: list[tuple[int, int, bool]]) -> None:
    """Pours and true tests of a pool that nobody's probe watches, each typed in at once, or after its own delay."""
    began, true, last_min = typed({}, 60), 0.0, 0.0
    entries: list[tuple[int, int, Entry]] = []
    for minute, delay, poured in sorted(moments):
        level = free(began) if not entries else true * 0.995 ** ((minute - last_min) / 60.0)
        true, last_min = (level + 1.0, minute) if poured else (level, minute)
        at = 61 + minute
        entries.append((at, delay, pour(at, 1.0) if poured else a_test(at, level)))
    end = 61 + 240 + 201

    def run(late: bool) -> Estimate:
        news: News = {}
        for at, delay, entry in entries:
            news[at + late * delay] = (*news.get(at + late * delay, ()), entry)
        return typed(news, end, began)

    in_time, told_late = run(False), run(True)
    assert free(told_late) == pytest.approx(free(in_time), rel=0.06)
    # In time is in the order of the moments, also where they are stored.
    hours = [*told_late.history, told_late.hour]
    assert all(a is not None and b is not None and a.start_s <= b.start_s for a, b in pairwise(hours))


def reading_mv(free_mg_l: float) -> float:
    """An electrode of 38 mV a decade that stands at 690 mV in 0.03 mg/L of HOCl; the pool has 50 mg/L of stabiliser."""
    return 690.0 + 38.0 * log10(hocl_mg_l(free_mg_l, 50.0, 7.5) / 0.03)


@pytest.mark.parametrize("poured_min", [305, 330, 355])
def test_the_electrode_that_saw_a_pour_learns_nothing_wrong_when_it_is_entered_late(poured_min: int) -> None:
    def run(typed_min: int) -> Estimate:
        est = typed({120: (a_test(120, 2.0),)}, poured_min - 1, None, reading_mv(2.0))
        return typed({typed_min: (pour(poured_min, 8.0),)}, 480, est, reading_mv(10.0))

    in_time, late = (water(SITE, run(at)) for at in (poured_min, 480))
    assert late.free_chlorine_mg_l == pytest.approx(in_time.free_chlorine_mg_l, rel=0.03)
    assert late.orp_offset_mv == pytest.approx(in_time.orp_offset_mv, abs=2.0)


def test_what_was_poured_in_before_a_test_is_in_it_also_where_no_hours_are_stored_any_more() -> None:
    """A new electrode ends the stored hours; the test before it has seen what was poured in before that."""
    est = typed({310: (a_test(310, 3.2),)}, 320)
    inputs = EstimateInputs(
        MINUTE_S * 321, UTC_NOW, 0.0, None, None, 0.05, 25.0, 0.0, (), replaced=frozenset({SignalKind.ORP})
    )  # fmt: skip
    est = typed({}, 330, update(SITE, PARAMS, est, inputs))
    before = free(est)
    assert free(typed({331: (pour(300, 2.0),)}, 331, est)) == pytest.approx(before, abs=0.1)
    assert free(typed({331: (pour(315, 2.0),)}, 331, est)) == pytest.approx(before + 2.0, abs=0.1)


def test_a_record_of_a_version_that_gave_pours_no_moment_is_read_as_it_was_meant() -> None:
    """There the dose hung on the start of its hour, beside an empty one."""
    est = typed({300: (pour(300, 2.0),)}, 330)
    assert est.hour is not None
    old = replace(est, hour=replace(est.hour, added_mg_l=2.0, pours=()))
    codec = PartCodec(Estimate)
    body = re.sub(rb',"(pours|acid_mg_l|ph_read)":(\[\]|[0-9.]+|null)', b"", codec.encode(old))
    assert not any(name in body for name in (b"pours", b"acid_mg_l", b"ph_read"))
    back = codec.decode(body)
    assert old.hour is not None
    assert back.hour == replace(old.hour, acid_mg_l=0.0, ph_read=None)
    assert codec.decode(codec.encode(est)) == est
    found = a_test(290, 1.2)
    expected = free(typed({331: (found,)}, 331, est))
    assert expected == pytest.approx(3.2, abs=0.35)
    assert free(typed({331: (found,)}, 331, back)) == pytest.approx(expected, abs=0.01)


@pytest.mark.parametrize(("poured_min", "entered_min"), [(332, 342), (358, 365)])
def test_a_late_test_from_between_a_pour_and_its_entry_is_of_the_water_after(poured_min: int, entered_min: int) -> None:
    """Entered within a quarter of an hour it counts as of now, and its moment is its own; also where an hour has begun since."""
    found = a_test(poured_min + 1, 3.2)
    entries: News = {entered_min: (pour(poured_min, 2.0),), 420: (found,)}
    assert free(typed(entries, 420)) == pytest.approx(3.2, abs=0.45)
    never = typed({entered_min: entries[entered_min]}, 421)
    withdrawn = typed({**entries, 421: (replace(found, withdrawn=True),)}, 421)
    assert free(withdrawn) == pytest.approx(free(never), abs=0.05)


def test_a_pour_from_before_another_ones_entry_finds_its_place_among_tests() -> None:
    """Poured in at 332 and entered at 342; tested at 336; poured in again at 338, which is typed at 400."""
    est = typed({342: (pour(332, 1.0),), 400: (pour(338, 2.0),), 420: (a_test(336, 2.2),)}, 420)
    assert free(est) == pytest.approx(4.2, abs=0.45)


def test_a_test_from_between_a_pour_and_its_entry_stays_as_long_as_its_hour() -> None:
    """Two days on that hour is the first that is stored, and a test from before all of them runs it again."""
    est = typed({342: (pour(332, 2.0),), 360: (a_test(337, 3.0),)}, 361)
    while est.history[0].begins_s < MINUTE_S * 332:
        est = typed({}, round((est.updated_s or 0.0) / MINUTE_S) + 1, est)
    at = round((est.updated_s or 0.0) / MINUTE_S) + 1
    before = water(SITE, est)
    slip = a_test(100, 30.0)
    after = water(SITE, typed({at: (slip,), at + 1: (replace(slip, withdrawn=True),)}, at + 1, est))
    assert after.free_chlorine_mg_l == pytest.approx(before.free_chlorine_mg_l, rel=0.05)
