"""The day's chlorine: sizes known from practice, and what no loss explains."""

from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dosectl.chemistry import sunlight
from dosectl.chemistry.changes import losses
from dosectl.chemistry.changes.losses import Balance, Site

STEP_S = 900.0
MIDSUMMER = [
    sunlight.clear_sky_uv(
        sunlight.sun_elevation_deg(datetime(2026, 6, 21, tzinfo=UTC) + timedelta(seconds=i * STEP_S), 45.0, 0.0)
    )
    for i in range(96)
]
NIGHT = [0.0] * 96


def a_day(cya: float, uv: list[float], *, fc: float = 4.0, temp_c: float = 27.0, site: Site | None = None) -> losses.Loss:
    """Loss over a day with nothing fed."""
    return losses.curve_mg_l(fc, cya, 7.5, temp_c=temp_c, uv=uv, step_s=STEP_S, site=site or Site())[1]


@pytest.mark.parametrize("cya", [30.0, 40.0, 50.0])
def test_a_clear_midsummer_day_takes_two_to_three_milligrams(cya: float) -> None:
    assert 2.0 < a_day(cya, MIDSUMMER).total < 3.0  # common practice, for a stabilised outdoor pool


def test_without_stabiliser_two_hours_of_noon_take_nearly_all() -> None:
    # Two sources part: 75-90 % within 2 h is told of outdoor pools (common practice), the half-lives by pH that the code follows
    # (`test_decay`) give 97 %. The code follows what was measured of the light alone; it errs to a faster loss.
    noon = MIDSUMMER[44:52]
    levels, _ = losses.curve_mg_l(4.0, 0.0, 7.5, temp_c=27.0, uv=noon, step_s=STEP_S, site=Site())
    assert 0.75 < 1.0 - levels[-1] / 4.0 < 0.98


def test_free_forms_take_the_share_of_sun_that_was_worked_out() -> None:
    # Depth share 0.6, 5 noon hours, FC 3, CYA 30 and 50: about 18 and 11 % from HOCl and OCl- alone.
    site = Site(depth_m=1.0, attenuation_per_m=1.13, k_ring_per_s=0.0, demand_per_day=0.0)
    uv = [0.9] * 20
    for cya, share in ((30.0, 0.18), (50.0, 0.11)):
        lost = losses.curve_mg_l(3.0, cya, 7.5, temp_c=25.0, uv=uv, step_s=STEP_S, site=site)[1]
        assert lost.sun_free / 3.0 == pytest.approx(share, abs=0.02)


@given(st.floats(0.1, 20.0), st.floats(0.0, 100.0), st.floats(5.0, 38.0), st.floats(0.0, 1.0))
def test_causes_sum_to_what_is_gone_and_nothing_goes_below_zero(fc: float, cya: float, temp_c: float, light: float) -> None:
    uv = [light * u for u in MIDSUMMER]
    levels, lost = losses.curve_mg_l(fc, cya, 7.5, temp_c=temp_c, uv=uv, step_s=STEP_S, site=Site())
    assert fc - levels[-1] == pytest.approx(lost.total, abs=1e-9)
    assert all(a >= b >= 0.0 for a, b in zip([fc, *levels], levels, strict=False))


def test_the_dark_hours_show_demand_alone_and_warmth_raises_it() -> None:
    assert a_day(40.0, NIGHT).sun_free == 0.0
    assert a_day(40.0, NIGHT).sun_ring == 0.0
    assert a_day(40.0, NIGHT, temp_c=30.0).demand > a_day(40.0, NIGHT, temp_c=20.0).demand


def test_shade_and_depth_save_chlorine() -> None:
    open_pool = a_day(40.0, MIDSUMMER).total
    assert a_day(40.0, MIDSUMMER, site=Site(shade=0.3)).total < open_pool
    assert a_day(40.0, MIDSUMMER, site=Site(depth_m=2.5)).total < open_pool


def test_bathers_take_their_grams() -> None:
    rate = losses.loss_rate_mg_l_s(
        3.0, 40.0, 7.5, temp_c=25.0, uv=0.0, site=Site(demand_per_day=0.0), bathers_g_h=55.0, volume_m3=50.0
    )
    assert rate.total * 3600.0 == pytest.approx(1.1)


def test_when_an_overdose_has_come_down() -> None:
    levels, _ = losses.curve_mg_l(12.0, 40.0, 7.5, temp_c=27.0, uv=MIDSUMMER * 3, step_s=STEP_S, site=Site())
    seconds = losses.time_to_fall_s(levels, STEP_S, 12.0, 5.0)
    assert seconds is not None
    assert 12 * 3600 < seconds < 60 * 3600
    assert losses.time_to_fall_s(levels, STEP_S, 12.0, 0.0001) is None
    assert losses.time_to_fall_s(levels, STEP_S, 3.0, 5.0) == 0.0
    assert losses.time_to_fall_s([4.0, 2.0], 100.0, 6.0, 3.0) == pytest.approx(150.0)


@pytest.mark.parametrize(
    ("before", "later", "fed", "usual", "verdict"),
    [
        (3.0, 2.9, 2.0, 2.0, Balance.AS_EXPECTED),
        (3.0, 3.4, 0.0, 0.0, Balance.AS_EXPECTED),  # 0.4 lies within two tests of 0.2
        (3.0, 4.5, 0.0, 2.0, Balance.RISE_UNEXPLAINED),
        (3.0, 0.5, 2.0, 2.0, Balance.LOSS_HIGH),
        (3.0, 2.3, 2.0, 2.0, Balance.AS_EXPECTED),
    ],
)
def test_a_change_is_judged_against_feed_and_usual_loss(
    before: float, later: float, fed: float, usual: float, verdict: Balance
) -> None:
    assert losses.judge_change(before, later, fed, usual, sigma_mg_l=0.2)[0] is verdict
