"""What takes chlorine away, against published rates and half-lives (hypochlorite_decay.csv for storage)."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dosectl.chemistry import chlorine, decay
from tests.chemistry.reference_rows import numbers, rows


@pytest.mark.parametrize(("ph", "minutes"), [(7.0, 27.0), (7.2, 22.5), (7.5, 17.1), (7.8, 13.7), (8.0, 12.3)])
def test_surface_half_life_in_noon_sun(ph: float, minutes: float) -> None:
    # Nowell & Hoigne (1992) give 12 min at pH 8 and 60 at pH 5; the rest follows from their two rates.
    # 0.3 min: one of the figures is printed as a whole minute.
    assert decay.surface_half_life_min(ph) == pytest.approx(minutes, abs=0.3)


def test_surface_half_life_of_the_abstract() -> None:
    assert decay.surface_half_life_min(8.0) == pytest.approx(12.0, rel=0.05)
    assert decay.surface_half_life_min(5.0) == pytest.approx(60.0, rel=0.06)


@pytest.mark.parametrize(("kz", "share"), [(0.5, 0.787), (1.0, 0.632), (2.0, 0.432)])
def test_mean_light_over_the_depth(kz: float, share: float) -> None:
    assert decay.depth_factor(1.0, kz) == pytest.approx(share, abs=6e-4)


def test_clear_water_is_lit_to_the_ground() -> None:
    assert decay.depth_factor(2.0, 0.0) == 1.0
    assert decay.depth_factor(2.0, 1e-7) == pytest.approx(1.0, abs=1e-6)


@pytest.mark.parametrize(("cya", "share"), [(0.0, 0.91), (30.0, 0.067), (50.0, 0.038)])
def test_stabiliser_saves_chlorine_from_the_sun(cya: float, share: float) -> None:
    # One hour of noon sun at the surface, FC 3, pH 7.5: 91 % of it without, 6.7 and 3.8 % with 30 and 50 mg/L.
    fc = 3.0
    for _ in range(3600):
        s = chlorine.speciate(fc, cya, 7.5)
        fc -= decay.photolysis_rate_mg_l_s(s.hocl_mg_l, s.ocl_mg_l, s.bound_mg_l, decay.UV_OF_MEASUREMENT)
    # Stated for a steady share of free forms; it shrinks as chlorine falls, so 10 % of the figure is allowed.
    assert 1.0 - fc / 3.0 == pytest.approx(share, rel=0.10)


def test_photolysis_of_the_ring_is_off_until_a_site_fits_it() -> None:
    assert decay.photolysis_rate_mg_l_s(0.0, 0.0, 3.0, 1.0) == 0.0
    assert decay.photolysis_rate_mg_l_s(0.0, 0.0, 3.0, 1.0, k_ring_per_s=1e-6) > 0.0


def test_demand_doubles_with_ten_kelvin() -> None:
    assert decay.demand_temperature_factor(35.0) == pytest.approx(2.0)
    assert decay.demand_temperature_factor(15.0) == pytest.approx(0.5)


def test_bathers_use_chlorine_by_grams() -> None:
    # Bradford (2014): 5.5 g each; ten in 50 m3 take 1.1 mg/L.
    assert decay.bather_demand_g(10) / 50.0 == pytest.approx(1.1)


def test_storage_half_life_follows_the_table() -> None:
    for row in rows("hypochlorite_decay.csv"):
        trade, temp_c, days = numbers(row, "trade_percent", "temp_c", "half_life_days")
        # 1 % and half a day: the table is in whole days.
        assert decay.hypochlorite_half_life_days(10.0 * trade, temp_c) == pytest.approx(days, rel=0.01, abs=0.5)


@pytest.mark.parametrize(("trade", "days"), [(15.0, 144.0), (10.0, 220.0), (5.0, 790.0)])
def test_storage_half_life_is_within_half_of_an_often_quoted_table(trade: float, days: float) -> None:
    # The table is from memory and of another provenance; a factor of 1.5 is what its rows agree within.
    assert 1 / 1.5 < decay.hypochlorite_half_life_days(10.0 * trade, 25.0) / days < 1.5


@given(st.floats(1.0, 200.0), st.floats(0.0, 1000.0), st.floats(1.0, 500.0), st.floats(0.0, 40.0))
def test_stored_hypochlorite_only_weakens(strength: float, age: float, more: float, temp_c: float) -> None:
    today = decay.hypochlorite_strength_g_l(strength, age, temp_c)
    assert 0.0 < decay.hypochlorite_strength_g_l(strength, age + more, temp_c) < today <= strength


def test_half_of_it_is_left_after_the_half_life() -> None:
    days = decay.hypochlorite_half_life_days(125.0, 30.0)
    assert decay.hypochlorite_strength_g_l(125.0, days, 30.0) == pytest.approx(62.5)


def test_heat_and_strength_speed_it_up_as_published() -> None:
    # Lister (1956): 24.8 kcal/mol, about 3.9 times per 10 C near 25 C; twice the strength loses 3 to 3.3 times as
    # fast.
    warm, cool = (decay.hypochlorite_half_life_days(100.0, t) for t in (30.0, 20.0))
    assert cool / warm == pytest.approx(3.9, rel=0.1)
    strong, weak = (decay.hypochlorite_half_life_days(s, 25.0) for s in (100.0, 50.0))
    assert 3.0 < weak / strong < 3.3
