"""The estimate against a pool that it does not know."""

import math
from collections.abc import Iterable
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pydantic import TypeAdapter

from dosectl.core.estimate import Estimate, EstimateInputs, EstimateParams, WaterView, start, update, water
from dosectl.core.estimate.filters import rows_of
from dosectl.core.estimate.state import OFFSET
from dosectl.model.feeds import Substance
from dosectl.model.requests import RequestId
from dosectl.model.water_tests import Quantity, WaterTest
from tests.estimate.toy_pool import VOLUME_M3, ToyPool, site

PARAMS = EstimateParams()
PLANT = site()
MINUTE_S = 60.0
Z90 = 1.645


def hand_test(pool: ToyPool, quantity: Quantity, value: float, sigma: float, name: str = "") -> WaterTest:
    request = RequestId(name or f"{quantity}-{pool.now_s}")
    return WaterTest(request, quantity, value, sigma, "by hand", pool.utc, pool.now_s, pool.now_s, "me")


def chlorine_test(pool: ToyPool, name: str = "") -> WaterTest:
    return hand_test(pool, Quantity.FREE_CHLORINE, max(0.0, pool.free_mg_l + pool.rng.gauss(0.0, 0.2)), 0.25, name)


class Watched:
    """A toy pool with its estimate: a minute a step, pump from 8 to 20 h UTC, a steady feed while below a level."""

    def __init__(self, seed: int, cya: float = 50.0, orp: bool = True) -> None:
        self.pool = ToyPool(seed, cya_mg_l=cya)
        self.plant = site(cya=50.0 if cya > 0.0 else 0.0)
        self.estimate = start(self.plant, PARAMS, (), 0.0)
        self.orp, self.ph = orp, True
        self.orp_shift_mv = 0.0
        self.dose_g = 0.2

    def step(self, *tests: WaterTest, fed_g: float | None = None, party_mg_l: float = 0.0, acid_mg_l: float = 0.0) -> None:
        pool = self.pool
        flow = 8 <= pool.utc.hour < 20
        fed = ((self.dose_g if flow and pool.free_mg_l < 4.0 else 0.0) if fed_g is None else fed_g) / VOLUME_M3
        pool.advance(MINUTE_S, fed * VOLUME_M3, party_mg_l)
        since_s = (pool.now_s - 8 * 3600.0) % 86400.0 if flow else 0.0
        orp = pool.reading_mv() + self.orp_shift_mv if flow and self.orp else None
        ph = pool.ph + pool.rng.gauss(0.0, 0.02) if flow and self.ph else None
        given = ((Substance.CHLORINE, fed), (Substance.ACID, acid_mg_l))
        inputs = EstimateInputs(pool.now_s, pool.utc, MINUTE_S, orp, ph, 0.05, pool.temp_c, since_s, given, tests)
        self.estimate = update(self.plant, PARAMS, self.estimate, inputs)

    def run(self, hours: float) -> None:
        for _ in range(round(hours * 60)):
            self.step()

    @property
    def view(self) -> WaterView:
        return water(self.plant, self.estimate)


def inside_90(view: WaterView, truth: float) -> bool:
    return abs(math.log(view.free_chlorine_mg_l / truth)) <= Z90 * view.sigma_mg_l / view.free_chlorine_mg_l


def pool_after_a_test(seed: int = 1, hours: float = 34.0) -> Watched:
    """A pool after a day and a test in the afternoon."""
    watched = Watched(seed)
    watched.run(15.0)
    watched.step(chlorine_test(watched.pool))
    watched.run(hours - 15.0)
    return watched


def test_truth_lies_in_the_stated_band_with_a_test_a_week_through_parties_and_drift() -> None:
    hours, inside, doubt = 0, 0, 0.0
    for seed in range(5):
        watched = Watched(seed, cya=50.0 * math.exp((seed - 2) * 0.1))
        for minute in range(9 * 1440):
            tests = (chlorine_test(watched.pool),) if minute in (1440, 8 * 1440) else ()
            party = 0.8 / 120 if watched.pool.day == 5 and 14 <= watched.pool.utc.hour < 16 else 0.0
            watched.step(*tests, party_mg_l=party)
            if minute % 60 == 0 and minute > 1440:
                view = watched.view
                hours += 1
                inside += inside_90(view, watched.pool.free_mg_l)
                doubt += view.sigma_mg_l / view.free_chlorine_mg_l
    assert inside / hours >= 0.85
    assert doubt / hours < 0.4  # a band as wide as the sea would hold any truth


def test_before_the_first_test_the_doubt_is_said_and_a_test_removes_most_of_it() -> None:
    watched = Watched(3)
    watched.run(12.0)
    before = watched.view
    assert before.sigma_mg_l > 0.35 * before.free_chlorine_mg_l
    watched.step(chlorine_test(watched.pool))
    assert watched.view.sigma_mg_l < 0.4 * before.sigma_mg_l
    assert watched.view.free_chlorine_mg_l == pytest.approx(watched.pool.free_mg_l, abs=0.6)


def test_the_electrode_once_calibrated_shows_an_unreported_loss() -> None:
    seeing, blind = pool_after_a_test(hours=36.0), pool_after_a_test(hours=36.0)
    blind.orp = False
    for watched in (seeing, blind):
        for _ in range(30):
            watched.step(party_mg_l=1.5 / 30)
        watched.run(7.0)
    truth = seeing.pool.free_mg_l
    assert blind.view.free_chlorine_mg_l > 1.2 * truth
    assert abs(seeing.view.free_chlorine_mg_l - truth) < 0.7 * abs(blind.view.free_chlorine_mg_l - blind.pool.free_mg_l)
    assert inside_90(seeing.view, truth)


def test_a_tenfold_slip_of_the_pen_hardly_moves_it_and_is_named() -> None:
    watched = pool_after_a_test()
    before = watched.view
    slip = replace(chlorine_test(watched.pool, "slip"), value=10.0 * watched.pool.free_mg_l)
    watched.step(slip)
    assert watched.view.free_chlorine_mg_l == pytest.approx(before.free_chlorine_mg_l, rel=0.1)
    assert "slip" in watched.estimate.doubted


def test_a_slip_teaches_nothing_of_the_electrodes_drift_and_does_not_count_as_a_test() -> None:
    watched = pool_after_a_test(hours=5 * 24.0)
    before = watched.estimate
    watched.step(replace(chlorine_test(watched.pool, "slip"), value=10.0 * watched.pool.free_mg_l))
    assert "slip" in watched.estimate.doubted
    assert watched.estimate.drift_mv_sqrt_day == before.drift_mv_sqrt_day
    assert watched.estimate.tested_s == before.tested_s
    right = chlorine_test(watched.pool, "right")
    watched.step(right)
    assert watched.estimate.drift_mv_sqrt_day is not None
    assert watched.estimate.tested_s == right.taken_s


def test_a_test_that_was_taken_back_is_not_believed_at_a_new_start() -> None:
    watched = pool_after_a_test()
    good = hand_test(watched.pool, Quantity.FREE_CHLORINE, 3.0, 0.25, "good")
    slip = replace(hand_test(watched.pool, Quantity.FREE_CHLORINE, 8.0, 0.25, "slip"), withdrawn=True)
    with_slip, without = (start(watched.plant, PARAMS, tests, watched.pool.now_s) for tests in ((good, slip), (good,)))
    assert with_slip.mean == without.mean


@pytest.mark.parametrize(("value", "sigma"), [(0.26, 0.4), (0.26, 0.25), (0.39, 0.4)])
def test_a_doubted_test_neither_moves_the_estimate_nor_makes_it_surer(value: float, sigma: float) -> None:
    """A tenth of what is believed, when the belief itself is not sure: half believed is believed all the same."""
    watched, clean = pool_after_a_test(5, hours=4 * 24.0), pool_after_a_test(5, hours=4 * 24.0)
    test = hand_test(watched.pool, Quantity.FREE_CHLORINE, value, sigma, "slip")
    watched.step(test)
    clean.step()
    assert "slip" in watched.estimate.doubted
    assert watched.view.free_chlorine_mg_l == pytest.approx(clean.view.free_chlorine_mg_l, rel=0.05)
    assert watched.view.sigma_mg_l > 0.95 * clean.view.sigma_mg_l


@pytest.mark.parametrize("ph", [7.0, 7.4, 7.8])
def test_a_ph_typed_as_chlorine_is_doubted_and_as_a_second_test_believed(ph: float) -> None:
    watched = pool_after_a_test(5)
    watched.pool.free_mg_l = 2.5
    watched.step(hand_test(watched.pool, Quantity.FREE_CHLORINE, 2.5, 0.25, "right"))
    watched.run(24.0)
    before = watched.view
    watched.step(hand_test(watched.pool, Quantity.FREE_CHLORINE, ph, 0.4, "slip"))
    assert "slip" in watched.estimate.doubted
    assert watched.view.free_chlorine_mg_l == pytest.approx(before.free_chlorine_mg_l, rel=0.1)
    watched.run(0.5)
    watched.step(hand_test(watched.pool, Quantity.FREE_CHLORINE, ph, 0.4, "it really is so"))
    assert watched.view.free_chlorine_mg_l > 0.7 * ph


def test_a_slip_on_the_small_side_is_doubted_too() -> None:
    watched = pool_after_a_test()
    before = watched.view
    watched.step(replace(chlorine_test(watched.pool, "slip"), value=0.1 * watched.pool.free_mg_l))
    assert watched.view.free_chlorine_mg_l == pytest.approx(before.free_chlorine_mg_l, rel=0.25)
    assert "slip" in watched.estimate.doubted


@pytest.mark.parametrize("found", [0.0, 0.1])
def test_a_test_that_finds_nothing_is_believed_at_once(found: float) -> None:
    """A dead feeder and a stuck probe look like that, and no point slipped: a tenth of what is believed would be more."""
    watched = pool_after_a_test()
    watched.step(replace(chlorine_test(watched.pool, "none"), value=found))
    assert watched.view.free_chlorine_mg_l < 0.7
    assert "none" not in watched.estimate.doubted


def test_a_doubted_value_found_again_is_believed() -> None:
    watched = pool_after_a_test()
    watched.step(replace(chlorine_test(watched.pool, "first"), value=30.0, sigma=3.0))
    assert watched.view.free_chlorine_mg_l < 8.0
    watched.run(0.1)
    watched.step(replace(chlorine_test(watched.pool, "typed again"), value=30.0, sigma=3.0))
    assert watched.view.free_chlorine_mg_l < 8.0, "the same number typed once more within minutes is no second sample"
    watched.run(0.25)
    watched.step(replace(chlorine_test(watched.pool, "second"), value=29.0, sigma=3.0))
    assert watched.view.free_chlorine_mg_l > 15.0


def test_a_dose_by_hand_that_nobody_reported_is_taken_from_the_test() -> None:
    watched = pool_after_a_test()
    watched.pool.free_mg_l += 3.0  # to 5.4: a figure of 7 would look like the pH
    watched.step(chlorine_test(watched.pool, "after"))
    assert watched.view.free_chlorine_mg_l > 0.75 * watched.pool.free_mg_l
    assert "after" not in watched.estimate.doubted


def test_a_late_test_does_what_it_would_have_done_in_time() -> None:
    prompt, late = Watched(4), Watched(4)
    for watched in (prompt, late):
        watched.run(15.0)
    taken = chlorine_test(prompt.pool, "t")
    prompt.step(taken)
    late.step()
    prompt.run(12.0)
    late.run(12.0)
    assert (
        abs(late.view.free_chlorine_mg_l - prompt.view.free_chlorine_mg_l) > 0.05 or late.view.sigma_mg_l > prompt.view.sigma_mg_l
    )
    late.step(replace(taken, entered_s=late.pool.now_s))
    prompt.step()
    assert late.view.free_chlorine_mg_l == pytest.approx(prompt.view.free_chlorine_mg_l, rel=0.05)
    assert late.view.sigma_mg_l == pytest.approx(prompt.view.sigma_mg_l, rel=0.15)
    assert late.estimate.tested_s == taken.taken_s


@pytest.mark.parametrize("minute", [0, 1, 2, 30, 58, 59])
def test_whatever_minute_of_the_hour_a_test_falls_on_it_can_be_withdrawn(minute: int) -> None:
    clean, sorry = pool_after_a_test(5), pool_after_a_test(5)
    for watched in (clean, sorry):
        hour = watched.estimate.hour
        assert hour is not None
        while (watched.pool.now_s - hour.start_s) % 3600.0 != 60.0 * minute:
            watched.step()
    wrong = replace(
        chlorine_test(sorry.pool, "wrong"), value=1.2, taken_s=sorry.pool.now_s + 60.0, entered_s=sorry.pool.now_s + 60.0
    )
    sorry.step(wrong)
    clean.step()
    moved = abs(sorry.view.free_chlorine_mg_l - clean.view.free_chlorine_mg_l)
    sorry.run(0.1)
    clean.run(0.1)
    sorry.step(replace(wrong, withdrawn=True))
    clean.step()
    assert moved > 0.4
    assert abs(sorry.view.free_chlorine_mg_l - clean.view.free_chlorine_mg_l) < 0.1 * moved


def test_a_withdrawn_test_is_as_if_it_had_never_been() -> None:
    clean, sorry = pool_after_a_test(5), pool_after_a_test(5)
    wrong = replace(chlorine_test(sorry.pool, "wrong"), value=1.2)
    sorry.step(wrong)
    clean.step()
    sorry.run(10.0)
    clean.run(10.0)
    moved = abs(sorry.view.free_chlorine_mg_l - clean.view.free_chlorine_mg_l)
    sorry.step(replace(wrong, withdrawn=True))
    clean.step()
    left = abs(sorry.view.free_chlorine_mg_l - clean.view.free_chlorine_mg_l)
    assert moved > 0.4
    assert left < 0.2 * moved
    assert sorry.view.sigma_mg_l == pytest.approx(clean.view.sigma_mg_l, rel=0.15)


@pytest.mark.parametrize("told_s", [60.0, 2 * 86400.0 + 60.0])
def test_a_gap_in_operation_widens_the_doubt_however_it_is_told(told_s: float) -> None:
    watched = pool_after_a_test()
    before = watched.view
    pool = watched.pool
    pool.now_s += 2 * 86400.0 + 60.0
    inputs = EstimateInputs(pool.now_s, pool.utc, told_s, None, None, 0.05, None, 0.0, ())
    watched.estimate = update(PLANT, PARAMS, watched.estimate, inputs)
    assert watched.view.sigma_mg_l / watched.view.free_chlorine_mg_l > 1.3 * before.sigma_mg_l / before.free_chlorine_mg_l
    assert watched.view.free_chlorine_mg_l < before.free_chlorine_mg_l
    assert watched.estimate.hour is not None
    assert watched.estimate.hour.broken is not None
    assert watched.estimate.hour.broken.gap_s == pytest.approx(2 * 86400.0)


def test_a_gap_under_a_closed_cover_has_no_sun() -> None:
    """Three days off: reckoned in full sun the pool was believed empty, called as dead, and fed to 183 % of its target."""
    watched = pool_after_a_test()
    pool, est = watched.pool, replace(watched.estimate, cover_closed=True)
    before = watched.view
    pool.now_s += 3 * 86400.0
    inputs = EstimateInputs(pool.now_s, pool.utc, 60.0, None, None, 0.05, None, 0.0, (), cover_closed=True)
    after = water(PLANT, update(PLANT, PARAMS, est, inputs))
    open_to_the_sky = water(PLANT, update(PLANT, PARAMS, replace(est, cover_closed=None), replace(inputs, cover_closed=None)))
    lost_mg_l = 3.0 * before.demand_mg_l_day  # at most, as the demand falls with the chlorine
    assert after.free_chlorine_mg_l > max(before.free_chlorine_mg_l - lost_mg_l, 2.0 * open_to_the_sky.free_chlorine_mg_l)


@pytest.mark.parametrize("orp", [math.nan, math.inf, None])
def test_a_reading_that_is_no_number_changes_nothing(orp: float | None) -> None:
    watched = pool_after_a_test()
    base = EstimateInputs(watched.pool.now_s + 60.0, watched.pool.utc, 60.0, None, None, 0.05, None, 7200.0, ())
    assert update(PLANT, PARAMS, watched.estimate, replace(base, orp_mv=orp)) == update(PLANT, PARAMS, watched.estimate, base)


def test_probes_in_standing_water_are_not_asked() -> None:
    watched = pool_after_a_test()
    base = EstimateInputs(watched.pool.now_s + 60.0, watched.pool.utc, 60.0, 400.0, 8.4, 0.05, 45.0, 120.0, ())
    still = update(PLANT, PARAMS, watched.estimate, base)
    assert water(PLANT, still).ph == pytest.approx(watched.view.ph, abs=0.001)
    assert still.temp_c == watched.estimate.temp_c
    assert still.orp_seen_s == watched.estimate.orp_seen_s


def test_a_new_electrode_does_not_become_chlorine() -> None:
    watched = pool_after_a_test(2)
    watched.orp_shift_mv = -120.0
    watched.run(48.0)
    assert inside_90(watched.view, watched.pool.free_mg_l)
    assert watched.view.free_chlorine_mg_l == pytest.approx(watched.pool.free_mg_l, rel=0.4)


def test_a_late_test_does_not_bring_back_an_electrode_that_was_given_up() -> None:
    watched = pool_after_a_test(hours=34.0)
    taken = hand_test(watched.pool, Quantity.STABILISER, 50.0, 8.0, "late")
    watched.run(2.0)
    watched.orp_shift_mv = -160.0
    watched.run(8.0)
    before, doubt_mv = watched.estimate.mean[OFFSET], rows_of(watched.estimate.cov)[OFFSET][OFFSET] ** 0.5
    assert doubt_mv > 12.0  # it was given up, and learns anew
    watched.step(taken)
    assert rows_of(watched.estimate.cov)[OFFSET][OFFSET] ** 0.5 > 0.8 * doubt_mv
    assert watched.estimate.mean[OFFSET] == pytest.approx(before, abs=20.0)


def test_a_stabiliser_test_moves_the_stabiliser() -> None:
    watched = pool_after_a_test()
    watched.step(hand_test(watched.pool, Quantity.STABILISER, 80.0, 10.0))
    assert 60.0 < watched.view.cya_mg_l < 80.0
    assert watched.view.cya_sigma < 12.0


def test_acid_fed_lowers_alkalinity_and_a_test_resets_it() -> None:
    watched = pool_after_a_test()
    before = watched.view.alkalinity_mg_l
    for _ in range(10):
        watched.step(acid_mg_l=1.0)
    assert watched.view.alkalinity_mg_l == pytest.approx(before - 10.0)
    watched.step(hand_test(watched.pool, Quantity.ALKALINITY, 100.0, 5.0))
    assert watched.view.alkalinity_mg_l == pytest.approx(100.0, abs=3.0)
    assert watched.view.alkalinity_sigma < 6.0


def test_a_ph_test_shows_the_probes_offset() -> None:
    watched = pool_after_a_test(hours=33.0)
    watched.pool.ph = 7.9
    watched.run(3.0)
    for _ in range(4):
        watched.step(hand_test(watched.pool, Quantity.PH, 7.7, 0.05))
    watched.run(1.0)
    assert watched.view.ph == pytest.approx(7.7, abs=0.08)


def test_a_pool_without_stabiliser_is_followed() -> None:
    watched = Watched(6, cya=0.0)
    watched.run(14.0)
    watched.step(chlorine_test(watched.pool))
    assert watched.view.cya_mg_l < 5.0
    for _ in range(24 * 60):
        watched.step()
        assert math.isfinite(watched.view.free_chlorine_mg_l)
    assert watched.view.low95_mg_l <= watched.pool.free_mg_l <= watched.view.high95_mg_l


def test_the_estimate_survives_its_record() -> None:
    estimate = pool_after_a_test().estimate
    adapter = TypeAdapter(Estimate)
    assert adapter.validate_json(adapter.dump_json(estimate)) == estimate


def test_tests_known_at_the_start_are_used() -> None:
    pool = ToyPool(1)
    tests = (hand_test(pool, Quantity.FREE_CHLORINE, 5.0, 0.3), hand_test(pool, Quantity.STABILISER, 80.0, 8.0))
    view = water(PLANT, start(PLANT, PARAMS, tests, 600.0))
    assert view.free_chlorine_mg_l == pytest.approx(5.0, abs=0.5)
    assert view.cya_mg_l > 65.0


def positive(cov: tuple[float, ...]) -> bool:
    """By Cholesky's decomposition, with room for rounding."""
    p = rows_of(cov)
    size = len(p)
    low = [[0.0] * size for _ in range(size)]
    for i in range(size):
        for j in range(i + 1):
            rest = p[i][j] - sum(low[i][k] * low[j][k] for k in range(j))
            if i == j:
                if rest < -1e-9 * p[i][i]:
                    return False
                low[i][i] = math.sqrt(max(rest, 1e-12 * p[i][i]))
            else:
                low[i][j] = rest / low[j][j]
    return True


@settings(max_examples=60, deadline=None)
@given(
    st.lists(
        st.tuples(
            st.sampled_from([10.0, 60.0, 3600.0, 40000.0]),
            st.one_of(st.none(), st.floats(min_value=150.0, max_value=1000.0)),
            st.one_of(st.none(), st.floats(min_value=4.5, max_value=10.5)),
            st.one_of(st.none(), st.floats(min_value=-5.0, max_value=48.0)),
            st.floats(min_value=0.0, max_value=5.0),
            st.one_of(
                st.none(),
                st.tuples(
                    st.sampled_from([Quantity.FREE_CHLORINE, Quantity.STABILISER, Quantity.PH, Quantity.ALKALINITY]),
                    st.floats(min_value=0.0, max_value=300.0),
                    st.floats(min_value=0.01, max_value=30.0),
                    st.floats(min_value=0.0, max_value=100000.0),
                ),
            ),
        ),
        min_size=1,
        max_size=25,
    ),
    st.sampled_from([0.0, 30.0, 150.0]),
)
def test_whatever_comes_it_stays_finite_and_its_doubt_positive(events: Iterable[tuple], cya: float) -> None:  # type: ignore[type-arg]
    plant = site(cya=cya)
    pool = ToyPool(0)
    estimate = start(plant, PARAMS, (), 0.0)
    for number, (dt_s, orp, ph, temp, fed, tested) in enumerate(events):
        pool.now_s += dt_s
        tests: tuple[WaterTest, ...] = ()
        if tested is not None:
            quantity, value, sigma, age_s = tested
            tests = (replace(hand_test(pool, quantity, value, sigma, f"r{number}"), taken_s=pool.now_s - age_s),)
        given_mass = ((Substance.CHLORINE, fed), (Substance.ACID, fed))
        inputs = EstimateInputs(pool.now_s, pool.utc, dt_s, orp, ph, 0.05, temp, 5000.0, given_mass, tests)
        estimate = update(plant, PARAMS, estimate, inputs)
        view = water(plant, estimate)
        assert positive(estimate.cov)
        assert 0.0 < view.low95_mg_l <= view.free_chlorine_mg_l <= view.high95_mg_l < 1000.0
        assert math.isfinite(view.ph)
        assert view.ph_sigma > 0.0
        assert view.sun_loss_mg_l_day >= 0.0
